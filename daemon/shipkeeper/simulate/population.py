"""Nights drawn at random from a broad population of boats, berths, weathers and receivers.

The draw is meant to be wider than any one coast, and is no fit to the drag rule or the other way
round. Everything a night holds is in the plan that comes back.
"""

from math import cos, pi, radians, sin
from random import Random

from shipkeeper.simulate import weather
from shipkeeper.simulate.plan import (
    KNOT_MS,
    Boat,
    Drag,
    Instruments,
    NightPlan,
    Rode,
    StreamKnot,
    TideKnot,
    WindKnot,
)
from shipkeeper.simulate.receivers import draw_gnss
from shipkeeper.simulate.tides import reversing_stream, tide

DRAGS = ("none", "creep", "steady", "run", "veer", "parted", "stops")
MARKS = ("true", "near", "wrong", "antenna", "late", "at rest")
_MARK_WEIGHTS = (5, 20, 55, 10, 10, 0)


def random_plan(
    seed: int,
    drag_class: str | None = None,
    *,
    weather_class: str | None = None,
    gnss_class: str | None = None,
    mark_class: str | None = None,
    duration_s: float = 28_800.0,
    rate_hz: float = 1.0,
) -> NightPlan:
    """A night drawn with this seed; None draws that class too (drag None: no drag).

    Classes: DRAGS, `weather.WEATHERS`, `receivers.QUALITIES`, MARKS. 'at rest' (the button pressed
    when she already lies at full scope, so that the mark is where the bow is) is never drawn.
    """
    drag = drag_class if drag_class is not None else "none"
    if drag not in DRAGS:
        raise ValueError(f"no drag class {drag!r}; there are {', '.join(DRAGS)}")
    rand = Random(f"plan {seed} {drag}")
    boat = _boat(rand)
    depth = rand.uniform(3.0, 15.0)
    heights = _tide(rand, depth, duration_s)
    rode = _rode(rand, boat, depth, max(k.height_m for k in heights))
    start = rand.uniform(0.12, 0.85) * duration_s
    kind = weather_class if weather_class is not None else weather.draw_weather(rand)
    knots = weather.draw_wind(rand, kind, duration_s)
    drags = _drags(rand, drag, start, knots)
    mark = mark_class if mark_class is not None else rand.choices(MARKS, _MARK_WEIGHTS)[0]
    mark_x, mark_y = _mark(rand, mark, boat, rode, depth, knots[0])
    gnss = draw_gnss(rand, duration_s, gnss_class)
    steep = abs(rand.gauss(0.0, 0.015))
    down = rand.uniform(0.0, 2 * pi)
    return NightPlan(
        seed=seed,
        duration_s=duration_s,
        rate_hz=rate_hz,
        boat=boat,
        rode=rode,
        depth_m=depth,
        slope_east=steep * sin(down),
        slope_north=steep * cos(down),
        mark_x_m=mark_x,
        mark_y_m=mark_y,
        wind=tuple(knots),
        air=weather.draw_air(rand),
        stream=_stream(rand, duration_s),
        tide=heights,
        drags=drags,
        gnss=gnss,
        instruments=_instruments(rand),
        weather_class=kind,
        gnss_class=gnss.quality,
        drag_class=drag,
        mark_class=mark,
    )


def _boat(rand: Random) -> Boat:
    length = rand.uniform(7.0, 16.0)
    beam = rand.uniform(0.95, 1.1) * (0.22 * length + 1.15)
    return Boat(
        length_m=length,
        beam_m=beam,
        draught_m=rand.uniform(0.13, 0.19) * length,
        antenna_from_bow_m=rand.uniform(0.3, 0.98) * length,
        antenna_to_starboard_m=rand.uniform(-0.4, 0.4) * beam,
        bow_height_m=0.5 + 0.075 * length,
        mass_kg=rand.uniform(0.75, 1.3) * 5.5 * length**3,
        windage_ahead_m2=rand.uniform(0.75, 1.35) * (0.45 * length + 0.9 * beam),
        windage_abeam_m2=rand.uniform(0.8, 1.3) * 1.75 * length,
        sailing=rand.uniform(0.0, 1.0),
    )


def _rode(rand: Random, boat: Boat, depth: float, tide: float) -> Rode:
    """Scope 3.5 to 8 of depth and roller at the time of anchoring; never under 2 at high water."""
    height = depth + boat.bow_height_m
    length = max(rand.uniform(3.5, 8.0) * height, 2.0 * (height + tide), 15.0)
    length = min(length, 110.0)
    chain_mm = 8.0 if boat.length_m < 9.5 else rand.choice((8.0, 10.0))
    if boat.length_m > 12.5:
        chain_mm = rand.choice((10.0, 12.0))
    chain = length if rand.random() < 0.65 else min(length, rand.uniform(6.0, 30.0))
    error = max(-0.10, min(0.15, rand.gauss(0.02, 0.04)))
    return Rode(
        length_m=length,
        entered_m=max(5.0, round(length / (1.0 + error))),
        chain_m=chain,
        chain_mm=chain_mm,
        rope_mm=rand.choice((12.0, 14.0, 16.0, 18.0)),
        snubber_m_per_n=rand.uniform(0.8, 3.0) * 1.0e-4 * (11.0 / boat.length_m) ** 2.5,
        bottom_friction=rand.uniform(0.5, 1.0),
    )


def _tide(rand: Random, depth: float, duration_s: float) -> tuple[TideKnot, ...]:
    """Height over that at anchoring; at low water a boat still floats."""
    half = rand.choice((0.05, rand.uniform(0.2, 1.2), rand.uniform(0.5, 2.4)))
    phase = rand.uniform(0.0, 2 * pi)
    fall = half * (1.0 + sin(phase))  # from anchoring to low water
    if fall > 0.35 * depth:
        half *= 0.35 * depth / fall
    return tide(half, phase, duration_s)


def _stream(rand: Random, duration_s: float) -> tuple[StreamKnot, ...]:
    """A stream that reverses along an axis, strong or hardly there, with eddies."""
    most = rand.choice((rand.uniform(0.0, 0.15), rand.uniform(0.1, 0.6), rand.uniform(0.3, 1.3)))
    most *= KNOT_MS
    axis = rand.uniform(0.0, 2 * pi)
    phase = rand.uniform(0.0, 2 * pi)
    return reversing_stream(most, axis, phase, duration_s, 0.12, rand)


def _drags(rand: Random, drag: str, start: float, knots: list[WindKnot]) -> tuple[Drag, ...]:
    """The drag, and the wind that goes with it put into the knots."""
    end = start + 3 * 3600.0
    if drag == "none":
        return ()
    if drag == "creep":
        speed = rand.uniform(0.05, 0.2)
        weather.at_least(knots, start, end, rand.uniform(9, 20) * KNOT_MS)
    elif drag == "run":
        speed = rand.uniform(1.0, 2.5)
        weather.at_least(knots, start, end, (16 + 7 * speed + rand.uniform(0, 6)) * KNOT_MS)
    elif drag == "veer":
        speed = rand.uniform(0.2, 1.0)
        takes = rand.uniform(120.0, 1800.0)
        shift = rand.choice((-1, 1)) * rand.uniform(90.0, 180.0)
        before = start - takes - rand.uniform(60.0, 1200.0)
        weather.add_change(rand, knots, max(60.0, before), 1.1, shift, takes)
        weather.at_least(knots, start - 60.0, end, rand.uniform(12, 24) * KNOT_MS)
    elif drag == "parted":
        weather.at_least(knots, start, end, rand.uniform(8, 28) * KNOT_MS)
        return (Drag(start_s=start, parted=True),)
    elif drag == "stops":
        speed = rand.uniform(0.1, 0.8)
        weather.at_least(knots, start, end, rand.uniform(12, 24) * KNOT_MS)
        stop = rand.uniform(7.0, 14.0)
        return (Drag(start_s=start, speed_ms=speed * KNOT_MS, stop_after_m=stop),)
    else:
        speed = rand.uniform(0.3, 0.8)
        weather.at_least(knots, start, end, rand.uniform(12, 26) * KNOT_MS)
    return (Drag(start_s=start, speed_ms=speed * KNOT_MS),)


def _mark(
    rand: Random, mark: str, boat: Boat, rode: Rode, depth: float, wind: WindKnot
) -> tuple[float, float]:
    """Where the person said the anchor is, the true one being at (0, 0)."""
    angle = rand.uniform(0.0, 2 * pi)
    size = 0.0
    if mark == "near":
        size = abs(rand.gauss(0.0, 3.0))
    elif mark == "wrong":
        size = rand.uniform(5.0, 20.0)
    elif mark in ("antenna", "late", "at rest"):
        # Downwind of the anchor: she falls back while the button is found.
        angle = radians(wind.from_deg + 180.0 + rand.gauss(0.0, 10.0))
        if mark == "antenna":
            size = boat.antenna_from_bow_m + rand.uniform(0.0, 5.0)
        elif mark == "late":
            size = min(rand.uniform(8.0, 25.0), 0.6 * rode.length_m)
        else:
            height = depth + boat.bow_height_m
            size = (rode.length_m**2 - height**2) ** 0.5 - 0.3 * height
    x, y = size * sin(angle), size * cos(angle)
    if mark != "true":
        x += rand.gauss(0.0, 1.5)
        y += rand.gauss(0.0, 1.5)
    return x, y


def _instruments(rand: Random) -> Instruments:
    return Instruments(
        compass_bias_deg=rand.gauss(0.0, 4.0),
        compass_swing_deg=abs(rand.gauss(0.0, 3.0)),
        compass_sigma_deg=rand.uniform(0.3, 2.5),
        wind_gain=rand.uniform(0.9, 1.1),
        wind_offset_deg=rand.gauss(0.0, 4.0),
        wind_sigma_ms=rand.uniform(0.1, 0.5),
        vane_sigma_deg=rand.uniform(2.0, 9.0),
        cup_stall_ms=rand.uniform(0.2, 1.0),
        depth_sigma_m=rand.uniform(0.02, 0.15),
        depth_loss=rand.choice((0.0, 0.001, 0.02)),
    )
