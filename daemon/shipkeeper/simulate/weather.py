"""Weathers drawn at random: the mean wind of a night as knots, by class.

Classes: `light moderate fresh gale front squalls veer calm breeze` (a sea breeze that dies and a
night wind off the land). Speeds and shapes are our own choice, broad on purpose; no statistics
of any one place stand behind them.
"""

from random import Random

from shipkeeper.simulate.plan import KNOT_MS, Air, WindKnot

WEATHERS = ("light", "moderate", "fresh", "gale", "front", "squalls", "veer", "calm", "breeze")
_WEIGHTS = (12, 18, 14, 6, 12, 12, 10, 10, 6)
STRONGEST_MS = 29.0  # mean wind: in more than a violent storm nobody of this population anchors
_MEAN_KN = {
    "light": (3, 9), "moderate": (8, 17), "fresh": (15, 25), "gale": (24, 38), "front": (7, 20),
    "squalls": (5, 16), "veer": (5, 20), "calm": (0, 4), "breeze": (8, 18),
}  # fmt: skip


def draw_weather(rand: Random) -> str:
    """A class, by weight."""
    return rand.choices(WEATHERS, _WEIGHTS)[0]


def draw_air(rand: Random) -> Air:
    """Gustiness: open water at one end, under high land at the other."""
    return Air(
        gust=rand.uniform(0.08, 0.27),
        gust_tau_s=rand.uniform(5.0, 20.0),
        shift_deg=rand.uniform(3.0, 12.0),
        meander_deg=rand.uniform(4.0, 20.0),
        meander_tau_s=rand.uniform(200.0, 1200.0),
    )


def draw_wind(rand: Random, weather: str, duration_s: float) -> list[WindKnot]:
    """Knots of mean wind for a night of this class."""
    low, high = _MEAN_KN[weather]
    mean = rand.uniform(low, high) * KNOT_MS
    course = rand.uniform(0.0, 360.0)
    knots = _wandering(rand, mean, course, duration_s)
    if weather == "front":
        rise = rand.uniform(1.1, 2.0)
        shift = rand.choice((-1, 1)) * rand.uniform(40.0, 110.0)
        add_change(rand, knots, _hour(rand, duration_s), rise, shift, rand.uniform(300, 2400))
    elif weather == "veer":
        for _ in range(rand.choice((1, 1, 2))):
            shift = rand.choice((-1, 1)) * rand.uniform(90.0, 180.0)
            change = rand.uniform(0.7, 1.4)
            add_change(rand, knots, _hour(rand, duration_s), change, shift, rand.uniform(120, 3600))
    elif weather == "squalls":
        for _ in range(rand.randint(1, 4)):
            add_squall(rand, knots, _hour(rand, duration_s), rand.uniform(18, 40) * KNOT_MS)
    elif weather == "breeze":
        dies = _hour(rand, duration_s)
        add_change(rand, knots, dies, rand.uniform(0.1, 0.3), rand.uniform(-40, 40), 3600.0)
        later = dies + rand.uniform(2400, 9000)
        add_change(rand, knots, later, rand.uniform(2.0, 4.0), rand.uniform(100, 200), 1800.0)
    return [WindKnot(k.t_s, min(k.speed_ms, STRONGEST_MS), k.from_deg) for k in knots]


def _hour(rand: Random, duration_s: float) -> float:
    return rand.uniform(0.08, 0.92) * duration_s


def _wandering(rand: Random, mean: float, course: float, duration_s: float) -> list[WindKnot]:
    """A mean that wanders from half hour to half hour."""
    knots = []
    speed = mean
    time = 0.0
    while time <= duration_s + 1800:
        knots.append(WindKnot(time, max(0.0, speed), course))
        time += 1800.0
        speed += 0.35 * (mean - speed) + rand.gauss(0.0, 0.13 * mean + 0.1)
        course += rand.gauss(0.0, 7.0 if mean > 3.0 else 30.0)
    return knots


def add_change(
    rand: Random,
    knots: list[WindKnot],
    start_s: float,
    factor: float,
    shift_deg: float,
    takes_s: float,
) -> None:
    """From `start_s` the wind changes over some time and stays changed: a front or a shift."""
    before = _at(knots, start_s)
    end_s = start_s + takes_s
    after = _at(knots, end_s)
    # A shift often goes through a lull.
    lull = WindKnot(
        start_s + 0.5 * takes_s,
        0.5 * (before.speed_ms + factor * after.speed_ms) * rand.uniform(0.4, 1.1),
        0.5 * (before.from_deg + after.from_deg + shift_deg),
    )
    kept = [k for k in knots if k.t_s < start_s]
    later = [
        WindKnot(k.t_s, k.speed_ms * factor, k.from_deg + shift_deg) for k in knots if k.t_s > end_s
    ]
    settled = WindKnot(end_s, after.speed_ms * factor, after.from_deg + shift_deg)
    knots[:] = [*kept, before, lull, settled, *later]


def add_squall(rand: Random, knots: list[WindKnot], start_s: float, peak_ms: float) -> None:
    """The wind jumps up and over, blows for some minutes and comes back."""
    before = _at(knots, start_s)
    shift = rand.choice((-1, 1)) * rand.uniform(0.0, 80.0)
    rises = start_s + rand.uniform(40, 240)
    falls = rises + rand.uniform(240, 1200)
    end_s = falls + rand.uniform(400, 1500)
    after = _at(knots, end_s)
    settles = rand.uniform(0.3, 1.0)
    squall = [
        before,
        WindKnot(rises, peak_ms, before.from_deg + shift),
        WindKnot(falls, peak_ms * rand.uniform(0.6, 0.95), before.from_deg + shift),
        WindKnot(end_s, after.speed_ms * settles, after.from_deg),
    ]
    kept = [k for k in knots if k.t_s < start_s]
    knots[:] = [*kept, *squall, *(k for k in knots if k.t_s > end_s)]


def at_least(knots: list[WindKnot], start_s: float, end_s: float, speed_ms: float) -> None:
    """Lift the mean wind to a speed between two times, with five minutes of rise before."""
    for time in (start_s - 300.0, start_s, end_s):
        if not any(abs(k.t_s - time) < 1.0 for k in knots):
            knots.append(_at(knots, max(0.0, time)))
            knots.sort(key=lambda k: k.t_s)
    knots[:] = [
        WindKnot(k.t_s, max(k.speed_ms, speed_ms), k.from_deg) if start_s <= k.t_s <= end_s else k
        for k in knots
    ]


def _at(knots: list[WindKnot], time: float) -> WindKnot:
    """The mean wind at a time."""
    before = knots[0]
    for after in knots:
        if after.t_s >= time:
            span = after.t_s - before.t_s
            part = (time - before.t_s) / span if span > 0.0 else 0.0
            return WindKnot(
                time,
                before.speed_ms + part * (after.speed_ms - before.speed_ms),
                before.from_deg + part * (after.from_deg - before.from_deg),
            )
        before = after
    return WindKnot(time, before.speed_ms, before.from_deg)
