"""One night from one plan: the truth and what the instruments make of it, sample by sample."""

from collections.abc import Iterator

from shipkeeper.simulate.gnss import Receiver
from shipkeeper.simulate.instruments import Board
from shipkeeper.simulate.motion import Truth, heading_deg
from shipkeeper.simulate.plan import NightPlan, Sample

_LONGEST_TICK_S = 1.0


def simulate(plan: NightPlan) -> Iterator[Sample]:
    """The samples of a night, from t = 0, `rate_hz` a second, lazily.

    Stop reading when enough has been seen: what is not read is not computed. ValueError for a
    plan that cannot be (rode shorter than the depth, rate outside 0.05 to 20 Hz).
    """
    _check(plan)
    period = 1.0 / plan.rate_hz
    ticks = max(1, round(period / _LONGEST_TICK_S))
    tick_s = period / ticks
    truth = Truth(plan, tick_s)
    receiver = Receiver(plan, period)
    board = Board(plan)
    for number in range(int(plan.duration_s * plan.rate_hz + 1e-9)):
        if number > 0:
            base = (number - 1) * ticks
            for tick in range(1, ticks + 1):
                truth.step((base + tick) * tick_s)
        yield _sample(plan, truth, receiver, board, number * period)


def _sample(plan: NightPlan, truth: Truth, receiver: Receiver, board: Board, t_s: float) -> Sample:
    boat, hull, wind = plan.boat, truth.hull, truth.wind
    off_x, off_y = hull.offset_m(boat.antenna_from_bow_m, boat.antenna_to_starboard_m)
    x, y = hull.x_m + off_x, hull.y_m + off_y
    east, north = hull.east_ms + hull.r * off_y, hull.north_ms - hull.r * off_x
    receiver.step(t_s, x, y, east, north, wind.speed_ms)
    wind_speed, wind_angle = board.wind(truth)
    return Sample(
        t_s,
        receiver.x_m,
        receiver.y_m,
        receiver.sog_ms,
        receiver.cog_deg,
        receiver.hdop,
        board.compass_deg(truth),
        wind_speed,
        wind_angle,
        board.depth_m(truth),
        wind.speed_ms,
        wind.from_deg,
        truth.depth_at_m(hull.x_m, hull.y_m),
        heading_deg(hull.heading),
        truth.anchor_x_m,
        truth.anchor_y_m,
        hull.bow_x_m,
        hull.bow_y_m,
        x,
        y,
        truth.pull_n,
        truth.dragging,
        truth.dragged_m,
    )


def _check(plan: NightPlan) -> None:
    """ValueError when the plan cannot be a night."""
    rode = plan.rode
    if not 0.05 <= plan.rate_hz <= 20.0:
        raise ValueError(f"rate {plan.rate_hz} Hz is outside 0.05 to 20 Hz")
    if not 0.0 < rode.chain_m <= rode.length_m + 1e-9:
        raise ValueError(f"{rode.chain_m} m of chain in a rode of {rode.length_m} m")
    highest = plan.bow_over_bottom_m + max((k.height_m for k in plan.tide), default=0.0)
    if rode.length_m < 1.1 * highest:
        raise ValueError(f"a rode of {rode.length_m} m is too short for {highest:.1f} m")
    lowest = plan.depth_m + min((k.height_m for k in plan.tide), default=0.0)
    if lowest < 0.5:
        raise ValueError(f"the anchorage falls to {lowest:.1f} m at low water")
    if not plan.wind:
        raise ValueError("a night needs at least one knot of wind")
