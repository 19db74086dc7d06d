"""Campaign: a month of watch in hours. Does the daemon grow, or lose what it should hold?

    nice python -m tests.faults.soak [--days 30] [--until 16:25] [--ships 1000] [--ais 75] [--hz 10]

The real daemon with buzzer, push, syslog, MQTT and store, its clock going by the feed, over one
wire as fast as it takes it (no recorder: it writes by the true clock, so a day that passes in
minutes heaps up in it, which would hide what is looked for). The load is that of
tests/bench/full_load.py (75 AIS messages a second, 10 Hz fixes, 20 radar targets), with another
fleet of other identities each day; every two hours a boat comes through the guard zone; once a day
the fixes stop for two minutes, the push service is out of order for one hour and hangs for
another. A person acknowledges what is raised.

Each simulated day a line: resident memory (median and most of the 24 hours), descriptors, threads,
raises, pushes, what is still owed. The first day is the warm-up. Held: the daily medians after it
lie within 2 MB, no day has more descriptors or threads than the first, nothing is owed at the end.
Ends at --until (UTC), or after --days. The short form is in tests/faults/test_soak_short.py.
"""

from __future__ import annotations

import argparse
import math
import random
import statistics
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
from demo import night, sentences
from tests.bench import full_load
from tests.bench.aboard import command, memory_mb, orders, spent_s
from tests.live.boat import Boat, Daemon, drained
from tests.peers.broker import Broker

from shipkeeper.simulate.night import simulate
from shipkeeper.words.geo import from_east_north

HALF_S = 600  # out for so long, then the same way back: the loop has no leap in it
LOOP_S = 2 * HALF_S
DAY_LOOPS = 86_400 // LOOP_S
DAY_S, HOUR_S = 86_400, 3600
VISIT_EVERY = 6  # loops
BLIND = (7200, 7320)  # seconds of each day without a fix
MANNERS = {3: "refuse", 4: "hang"}  # of the push service, by hour; else it takes
FLAT_MB = 2.0
ANSWER_EVERY_S = 1.0
STARTS = datetime.fromtimestamp(night.START - 1, UTC)


class Hour(msgspec.Struct):
    """What the process was like at the end of a simulated hour."""

    resident_mb: float
    descriptors: int
    threads: int
    pushing: bool  # the push service was out of order in it: threads may hang


class Loop:
    """Twenty minutes of traffic, second by second, made once and said again and again."""

    def __init__(self, day: int, ships: int, a_second: int, hz: int) -> None:
        out = [_of_day(ship, day) for ship in full_load.fleet(ships, seed=day + 1)]
        back = [_turned(ship) for ship in out]
        self._others = [
            _others(channels.second(number), echoes, number, hz)
            for channels, echoes in (
                (full_load.Channels(side, a_second), full_load._nearest(side) if ships else [])
                for side in (out, back)
            )
            for number in range(HALF_S)
        ]
        self._hz = hz
        self._boat = _boat(hz)
        visitor = full_load.Ship(299_400_000 + day, "A", 6.0, 0.0, -900.0, 60.0, 3.0, 90.0)
        self._visit = {
            number + part * HALF_S: full_load._dynamic(ship, number)
            for part, ship in enumerate((visitor, _turned(visitor)))
            for number in range(0, HALF_S, 6)
        }

    def second(self, number: int, utc_s: float, *, visited: bool, blind: bool) -> bytes:
        """All that is said in this second of the loop, with the stamps of that time."""
        said: list[str] = []
        for tenth in range(self._hz):
            at_s = utc_s + tenth / self._hz
            fix, rest = self._boat[number * self._hz + tenth]
            first = [] if blind else _fixes(fix, at_s)
            lines = [*first, *rest, *self._others[number][tenth]]
            if tenth == 0 and visited:
                lines += self._visit.get(number, [])
            if lines:
                said.append(sentences.tagged(lines[0], "boat", at_s))
                said += lines[1:]
        return ("\r\n".join(said) + "\r\n").encode()


def _of_day(ship: full_load.Ship, day: int) -> full_load.Ship:
    """Another identity each day, but for the stations ashore."""
    if ship.station not in "AB":
        return ship
    return msgspec.structs.replace(ship, mmsi=ship.mmsi + 1000 * day)


def _turned(ship: full_load.Ship) -> full_load.Ship:
    """The same ship on her way back, from where she came to."""
    east, north = ship.place_m(HALF_S)
    course = (ship.course_deg + 180.0) % 360.0
    return msgspec.structs.replace(ship, east_m=east, north_m=north, course_deg=course)


def _others(
    messages: list[list[str]], echoes: list[full_load.Ship], number: int, hz: int
) -> list[list[str]]:
    """AIS and radar of one second, by the tenths of it (or what `hz` makes of it)."""
    parts: list[list[str]] = [[] for _ in range(hz)]
    for slot, message in enumerate(messages):
        parts[slot * hz // len(messages)] += message
    rng = random.Random(number)
    for n, ship in enumerate(echoes):
        turn_s = n * full_load.SCAN_S / len(echoes)
        turn_s += math.floor(number / full_load.SCAN_S) * full_load.SCAN_S
        for at_s in (turn_s, turn_s + full_load.SCAN_S):
            if number <= at_s < number + 1:
                parts[int((at_s - number) * hz)].append(
                    full_load._echo(n + 1, ship, at_s, night.ANCHOR, rng)
                )
    return parts


def _boat(hz: int) -> list[tuple[tuple[str, str], list[str]]]:
    """((RMC, GGA) after their time, the rest), step by step: out, and the same way back."""
    plan = msgspec.structs.replace(
        full_load._plan(HALF_S / 60.0), rate_hz=hz, duration_s=HALF_S + 1.0
    )
    out = []
    for step, sample in enumerate(simulate(plan)):
        if step >= HALF_S * hz:
            break
        assert sample.fix_x_m is not None and sample.fix_y_m is not None
        place = from_east_north(night.ANCHOR, sample.fix_x_m, sample.fix_y_m)
        rmc = sentences.rmc(0.0, place.lat, place.lon, sample.sog_ms, sample.cog_deg)
        gga = sentences.gga(0.0, place.lat, place.lon, sample.hdop)
        rest = [line for line in night.boat_sentences(sample) if line[3:6] in ("HDT", "MWV")]
        rest = rest if step % max(1, hz // 2) == 0 else rest[:1]
        if step % hz == 0 and sample.depth_m is not None:
            rest.append(sentences.dpt(sample.depth_m - night.TRANSDUCER_M, night.TRANSDUCER_M))
        # '$GPRMC,000000.00,<A,...,>010170,,,A*5C'
        out.append(((rmc[17 : rmc.index("010170")], gga[17 : gga.index("*")]), rest))
    return out + out[::-1]


def _fixes(after: tuple[str, str], utc_s: float) -> list[str]:
    moment = datetime.fromtimestamp(round(utc_s, 2), UTC)
    clock = moment.strftime("%H%M%S.") + f"{moment.microsecond // 10_000:02d}"
    rmc = f"GPRMC,{clock},{after[0]}{moment:%d%m%y},,,A"
    return [sentences.finish(rmc), sentences.finish(f"GPGGA,{clock},{after[1]}")]


class Person(threading.Thread):
    """Acknowledges whatever calls for it, and counts what the phone got."""

    def __init__(self, boat: Boat) -> None:
        super().__init__(daemon=True)
        self._boat, self._over = boat, threading.Event()
        self.acknowledged = self.pushed = self.refused = 0

    def run(self) -> None:
        while not self._over.wait(ANSWER_EVERY_S):
            self.pushed += len(drained(self._boat.phone.got))
            drained(self._boat.syslog.got)
            # What waits for the engine may be more than it takes in ten seconds: no rows then.
            for row in command(self._boat, "alerts")["data"].get("alerts", ()):
                if row["state"] in ("active-unacknowledged", "rectified-unacknowledged"):
                    answer = command(self._boat, "ack", id=row["id"])
                    self.acknowledged += answer["code"] == 0
                    self.refused += answer["code"] == 2

    def end(self) -> None:
        self._over.set()
        self.join(30)


class Soak:
    """One run. `days` has a list of hours for each day, the last perhaps not whole."""

    def __init__(self, boat: Boat, daemon: Daemon, ships: int, a_second: int, hz: int) -> None:
        self._boat, self._daemon = boat, daemon
        self._load = (ships, a_second, hz)
        self.days: list[list[Hour]] = []
        self.simulated_s = 0

    def play(self, seconds: int, until_s: float) -> None:
        """So many seconds of watch, or until that time (monotonic)."""
        began_s, began_cpu_s = time.monotonic(), spent_s(self._daemon.process.pid)
        with_person = Person(self._boat)
        with_person.start()
        try:
            for at in self._seconds(seconds, until_s):
                self.simulated_s = at + 1
                if (at + 1) % HOUR_S == 0:
                    self._look(at // HOUR_S % 24)
                if (at + 1) % DAY_S == 0:
                    took_s, cpu_s = time.monotonic() - began_s, spent_s(self._daemon.process.pid)
                    self._tell(with_person, took_s, cpu_s - began_cpu_s)
                    began_s, began_cpu_s = time.monotonic(), cpu_s
        finally:
            with_person.end()
        self.acknowledged, self.pushed = with_person.acknowledged, with_person.pushed

    def _seconds(self, seconds: int, until_s: float) -> Iterator[int]:
        loop = Loop(0, *self._load)
        for at in range(seconds):
            if time.monotonic() >= until_s or self._daemon.process.poll() is not None:
                return
            day, of_day = divmod(at, DAY_S)
            if of_day == 0 and day:
                loop = Loop(day, *self._load)
            if of_day % HOUR_S == 0:
                self._boat.phone.manner = MANNERS.get(of_day // HOUR_S, "take")
            if of_day == 0:
                self.days.append([])
            visited = at // LOOP_S % VISIT_EVERY == VISIT_EVERY - 1
            blind = BLIND[0] <= of_day < BLIND[1]
            said = loop.second(at % LOOP_S, night.START + at, visited=visited, blind=blind)
            self._boat.server.send(said)
            if at == 300:
                lat, lon = night.ANCHOR.lat, night.ANCHOR.lon
                command(self._boat, "anchor", how="at", lat=lat, lon=lon, rode_m=40.0, depth_m=7.2)
            yield at

    def _look(self, hour: int) -> None:
        pid = self._daemon.process.pid
        self.days[-1].append(
            Hour(
                resident_mb=memory_mb(pid)[0],
                descriptors=len(list(Path(f"/proc/{pid}/fd").iterdir())),
                threads=len(list(Path(f"/proc/{pid}/task").iterdir())),
                pushing=hour in MANNERS or hour - 1 in MANNERS,
            )
        )

    def _tell(self, person: Person, took_s: float, cpu_s: float) -> None:
        hours = self.days[-1]
        resident = [hour.resident_mb for hour in hours]
        kinds = [
            (min(counts), max(counts))
            for counts in ([h.descriptors for h in hours], [h.threads for h in hours])
        ]
        print(
            f"day {len(self.days):2}: resident {statistics.median(resident):.2f} MB"
            f" (most {max(resident):.2f}), descriptors {kinds[0][0]}-{kinds[0][1]},"
            f" threads {kinds[1][0]}-{kinds[1][1]}; so far {person.acknowledged} acknowledged,"
            f" {person.refused} refused, {person.pushed} pushes; owed {self._owed()};"
            f" {DAY_S / took_s:.0f} times real time, {cpu_s:.0f} s of processor",
            flush=True,
        )

    def owed_at_the_end(self, within_s: float = 120.0) -> int:
        """What is not delivered after the push service was there for a while."""
        self._boat.phone.manner = "take"
        edge_s = time.monotonic() + within_s
        while True:
            owed = self._owed()
            if owed == 0 or time.monotonic() > edge_s:
                return owed
            time.sleep(0.5)

    def _owed(self) -> int:
        """Messages in the outbox; -1 when the daemon did not answer in time."""
        data = command(self._boat, "status")["data"]
        return sum(data["daemon"]["outbox"].values()) if "daemon" in data else -1


def verdict(days: list[list[Hour]]) -> list[str]:
    """What does not hold, in words; empty when all does. The first day is the warm-up."""
    warm = [day for day in days[1:] if len(day) >= 12]
    if len(warm) < 2:
        return ["fewer than two days after the warm-up: nothing can be said"]
    wrong = []
    medians = [statistics.median(hour.resident_mb for hour in day) for day in warm]
    spread = max(medians) - min(medians)
    print(
        f"resident memory: {medians[0]:.2f} MB on day 2, {medians[-1]:.2f} MB on day"
        f" {len(warm) + 1}; the daily medians lie within {spread:.2f} MB"
    )
    if spread > FLAT_MB:
        wrong.append(f"resident memory is not flat within {FLAT_MB:g} MB")
    for name in ("descriptors", "threads"):
        # A command or a push under way has a thread and a descriptor of its own, so it is the
        # most of a day that must not go above that of the first.
        first, *later = (max(getattr(hour, name) for hour in day) for day in (days[0], *warm))
        print(f"{name}: at most {first} on day 1, {max(later)} after it")
        if max(later) > first:
            wrong.append(f"{name} grow")
    return wrong


def soak(
    folder: Path, seconds: int, until_s: float, ships: int, a_second: int, hz: int
) -> tuple[Soak, list[str]]:
    """Play it; the run, and what does not hold of what can be told of any length."""
    wrong = []
    with Broker(folder) as broker:
        text = orders().replace("BROKER", broker.address)
        flags = ("--clock", "feed", "--starts", STARTS.isoformat().replace("+00:00", "Z"))
        with Boat(folder, text) as boat, boat.watch(*flags) as daemon:
            boat.server.wait(within_s=300)
            run = Soak(boat, daemon, ships, a_second, hz)
            run.play(seconds, until_s)
            if daemon.process.poll() is not None:
                wrong.append(f"the daemon ended by itself: {daemon.printed[-5:]}")
            else:
                owed = run.owed_at_the_end()
                if owed:
                    wrong.append(f"{owed} messages are owed at the end")
            for _, line in daemon.printed:
                if "failed" in line or "abandon" in line or "Traceback" in line:
                    wrong.append(f"the daemon said: {line}")
    return run, wrong


def main() -> None:
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("--days", type=float, default=30.0)
    asked.add_argument("--until", help="HH:MM, UTC: end then, whatever has been played")
    asked.add_argument("--ships", type=int, default=1000)
    asked.add_argument("--ais", type=int, default=full_load.AIS_A_SECOND, help="messages a second")
    asked.add_argument("--hz", type=int, default=full_load.RATE_HZ, help="fixes a second")
    args = asked.parse_args()
    left_s = float("inf")
    if args.until:
        now = datetime.now(UTC)
        hour, _, minute = args.until.partition(":")
        end = now.replace(hour=int(hour), minute=int(minute), second=0)
        left_s = (end + timedelta(days=end < now) - now).total_seconds()
    with tempfile.TemporaryDirectory() as name:
        run, wrong = soak(
            Path(name), round(args.days * DAY_S), time.monotonic() + left_s,
            args.ships, args.ais, args.hz,
        )  # fmt: skip
    print(
        f"{run.simulated_s / DAY_S:.2f} days simulated: {run.acknowledged} acknowledged,"
        f" {run.pushed} pushes"
    )
    wrong += verdict(run.days)
    for text in wrong:
        print(f"DOES NOT HOLD: {text}")
    if not wrong:
        print("holds: memory flat within 2 MB, descriptors and threads do not grow, nothing owed")
    sys.exit(1 if wrong else 0)


if __name__ == "__main__":
    main()
