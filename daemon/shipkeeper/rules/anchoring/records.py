"""Plain records of the anchor mathematics: a block of evidence, and the estimate."""

import msgspec


class Block(msgspec.Struct, frozen=True, gc=False):
    """Half a minute of lying somewhere: mean place of the bow, reaches by rode hypothesis.

    `taut` 0..1: how sure it is that the rode is stretched. `ahead` is the direction of the
    pull (unit vector east, north), None when not known.
    """

    t_s: float
    span_s: float
    x_m: float
    y_m: float
    highest: tuple[float, ...]
    usual: tuple[float, ...]
    taut: float
    ahead: tuple[float, float] | None
    excess_m: float
    scale: float  # of the position error, 1 for a usual HDOP


class Estimate(msgspec.Struct, frozen=True, gc=False, kw_only=True):
    """What is held to be so after a fix. Distances m, directions degrees true, speeds m/s."""

    t_s: float
    valid: bool  # there is a position to go by
    excess_m: float  # the statistic that is compared with the thresholds
    raw_excess_m: float  # of this fix alone
    net_m: float  # beyond the circle about the mark that no belief can widen; negative inside
    circle_m: float  # beyond the taut reach about the mark; negative inside
    anchor_x_m: float
    anchor_y_m: float
    anchor_sigma_m: float
    bow_x_m: float
    bow_y_m: float
    from_mark_m: float
    from_anchor_m: float
    highest_reach_m: float
    usual_reach_m: float
    outward_m: float  # made good away from the estimated anchor in 40 s
    outward_ms: float
    fix_sigma_m: float
    fix_age_s: float | None
    hdop: float
    used: tuple[str, ...]
    missing: tuple[str, ...]
