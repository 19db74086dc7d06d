"""What is known when the watch is set: rode, depth, boat, and how the mark was come by."""

import msgspec


class AnchorSetting(msgspec.Struct, frozen=True, kw_only=True):
    """Everything the estimator is told beforehand. None: not known, and it costs something.

    `rise_m` is how much the tide may still rise above `depth_m`. `antenna_aft_m` is measured
    aft from the bow roller, `antenna_starboard_m` square to it from the middle line.
    `radius_m` outright makes a plain circle for the bow, whatever the rode.
    `marked_m` is the expected error of the mark (one sigma), None for the usual one.
    """

    kind: str = "anchored"  # anchored | moored | berthed
    rode_m: float | None = None
    depth_m: float | None = None
    rise_m: float = 0.0
    bow_height_m: float = 1.2
    length_m: float = 11.0
    beam_m: float = 3.5
    rode_kind: str = "chain"  # chain | mixed
    chain_size_m: float | None = None
    antenna_aft_m: float | None = None
    antenna_starboard_m: float = 0.0
    how_marked: str = "at"  # here | at | fixed | estimate
    radius_m: float | None = None
    marked_m: float | None = None
