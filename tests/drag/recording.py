"""A simulated night as the sentences that the boat's instruments would have sent.

PYTHONPATH=daemon:. python -m tests.drag.recording SEED CLASS > night.nmea
"""

import sys
from collections.abc import Iterator

from demo.sentences import dpt, gga, hdt, mwv, rmc, tagged

from shipkeeper.simulate import NightPlan, Sample, random_plan, simulate
from shipkeeper.words.geo import LatLon, offset, plane_bearing

START_S = 1_781_208_000.0  # a summer evening of ours, UTC
ANCHORAGE = LatLon(57.1, -5.2)


def place(x_m: float, y_m: float, about: LatLon = ANCHORAGE) -> LatLon:
    """Metres east and north of the true anchor's first spot -> a place."""
    return offset(about, plane_bearing(x_m, y_m), (x_m * x_m + y_m * y_m) ** 0.5)


def mark(plan: NightPlan, about: LatLon = ANCHORAGE) -> LatLon:
    """Where the person believes the anchor to be."""
    return place(plan.mark_x_m, plan.mark_y_m, about)


def sentences(plan: NightPlan, sample: Sample, leave_out: str = "") -> list[str]:
    """The second's sentences. leave_out: letters h w d s q as in trial.MASKS."""
    at = START_S + sample.t_s
    lat = lon = None
    if sample.fix_x_m is not None and sample.fix_y_m is not None:
        fix = place(sample.fix_x_m, sample.fix_y_m)
        lat, lon = fix.lat, fix.lon
    speed = None if "s" in leave_out else sample.sog_ms
    course = None if "s" in leave_out else sample.cog_deg
    said = [
        rmc(at, lat, lon, speed, course),
        gga(at, lat, lon, None if "q" in leave_out else sample.hdop),
    ]
    if sample.heading_deg is not None and "h" not in leave_out:
        said.append(hdt(sample.heading_deg))
    if sample.wind_speed_ms is not None and "w" not in leave_out:
        said.append(mwv(sample.wind_from_rel_deg or 0.0, sample.wind_speed_ms))
    if sample.depth_m is not None and "d" not in leave_out:
        said.append(dpt(sample.depth_m - 0.6, 0.6))
    return said


def lines(plan: NightPlan, leave_out: str = "") -> Iterator[tuple[float, str]]:
    """(UNIX time, sentence) of the whole night."""
    for sample in simulate(plan):
        for sentence in sentences(plan, sample, leave_out):
            yield START_S + sample.t_s, sentence


def main() -> None:
    """Print a night with TAG blocks; the mark goes to standard error."""
    plan = random_plan(int(sys.argv[1]), sys.argv[2])
    spot = mark(plan)
    print(
        f"--anchor {spot.lat:.6f},{spot.lon:.6f} --rode '{plan.rode.entered_m:.1f} m' "
        f"--depth '{plan.depth_m:.1f} m'; drag from {plan.drag_start_s}",
        file=sys.stderr,
    )
    for at, sentence in lines(plan):
        print(tagged(sentence, "gnss", at))


if __name__ == "__main__":
    main()
