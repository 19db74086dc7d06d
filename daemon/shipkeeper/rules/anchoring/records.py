"""Plain records of the anchor mathematics: a block of evidence, the estimate, the snapshot."""

import msgspec

from .setting import AnchorSetting


class Block(msgspec.Struct, frozen=True, gc=False):
    """Half a minute of lying somewhere: mean place of the bow, reaches by rode hypothesis.

    `taut` 0..1: how sure it is that the rode is stretched. `ahead` is the direction of the
    pull (unit vector east, north), None when not known. `line` is the line to the anchor as the
    sway shows it, either way, through (line_x_m, line_y_m), with its doubt in radians.
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
    line: tuple[float, float] | None
    line_x_m: float
    line_y_m: float
    line_doubt: float
    scale: float  # of the position error, 1 for a usual HDOP


class Estimate(msgspec.Struct, frozen=True, gc=False, kw_only=True):
    """What is held to be so after a fix. Distances m, directions degrees true, speeds m/s."""

    t_s: float
    valid: bool  # there is a position to go by
    excess_m: float  # the statistic that is compared with the thresholds
    raw_excess_m: float  # of this fix alone
    circle_m: float  # beyond the upper reach about the mark; negative inside. No belief moves it
    anchor_x_m: float
    anchor_y_m: float
    anchor_sigma_m: float
    bow_x_m: float
    bow_y_m: float
    from_mark_m: float
    from_anchor_m: float
    highest_reach_m: float
    usual_reach_m: float
    outward_m: float  # made good away from the estimated anchor: in 40 s, or in some minutes
    outward_ms: float
    astray_since_s: float | None  # since when she lies where her rode does not let her
    still_s: float  # of that, how long she has not got farther
    fix_sigma_m: float
    fix_age_s: float | None
    hdop: float
    used: tuple[str, ...]
    missing: tuple[str, ...]


class Kept(msgspec.Struct, frozen=True, kw_only=True):
    """What an estimator leaves behind for the next run."""

    filter: list[float | None]
    pull: list[float | None]
    belief: bytes
    extra: tuple[float, float] | None
    astray_since_s: float | None
    setting: AnchorSetting
    mark_xy: tuple[float, float]
    may_be_at_rest: bool
    slow: tuple[float, bytes] = (0.0, b"")
    holds_course: bool = False  # the receiver was found to hold its course at rest
