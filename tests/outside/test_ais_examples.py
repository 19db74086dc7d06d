"""AIS decoding against what others decoded: gpsd's check files, and single examples.

Sources and licences: tests/data/aivdm/README.md. Beside each example in examples.json stands
where it is from and how its values were got.
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from tests.unit.feed.air import by_pyais

from shipkeeper.feed.ais import TYPES
from shipkeeper.feed.ais_payload import TYPE_OF
from shipkeeper.feed.decode import Decoder, Heard
from shipkeeper.feed.framing import Framer
from shipkeeper.words.observations import AisAid, AisReport, AisStatic, AisText, Observation
from shipkeeper.words.units import MS_PER_KN

DATA = Path(__file__).parents[1] / "data" / "aivdm"
EXAMPLES = json.loads((DATA / "examples.json").read_text())


def listen(lines: list[str]) -> list[tuple[list[str], Heard]]:
    """Messages with the sentences they came in; ten seconds between, unless a part is due."""
    decoder, at_s = Decoder(), 0.0
    waiting: dict[str, str] = {}
    found = []
    for line in lines:
        heard = decoder.decode(at_s, "ais", line)
        fields = line.partition("!")[2].split(",")
        if heard.verdict == "partial":
            waiting[fields[3]] = line
            continue
        parts = [line]
        if len(fields) > 3 and fields[1] > "1":
            other = waiting.pop(fields[3], None)
            if other is not None:
                parts.insert(0 if fields[2] == "2" else 1, other)
        found.append((parts, heard))
        at_s += 0.01 if waiting else 10.0
    return found


# -- single examples, check-values section 3.1 -----------------------------------------------


@pytest.mark.parametrize("example", EXAMPLES, ids=[e["id"] for e in EXAMPLES])
def test_example(example: dict[str, Any]) -> None:
    """Each published or independently re-read field comes out, 'not available' as None."""
    decoder = Decoder()
    heards = [decoder.decode(1.0, "ais", line) for line in example["sentences"]]
    assert heards[-1].verdict == "good", heards[-1]
    facts = heards[-1].observations
    checked = [_field(facts, name, value) for name, value in example["expected"].items()]
    assert any(checked)


SAME = {
    "sog_kn": "speed", "sog": "speed", "cog": "course", "hdg": "heading", "rot": "turn",
    "rot_raw": "turn", "nav_status": "status", "shipname": "name",
}  # fmt: skip


def _field(facts: tuple[Observation, ...], name: str, value: Any) -> bool:
    """Check one expected field; False when no fact of ours carries it (IMO, draught, slots)."""
    name = SAME.get(name, name)
    report = next((f for f in facts if isinstance(f, AisReport)), None)
    static = next((f for f in facts if isinstance(f, AisStatic)), None)
    if name == "mmsi":
        assert {getattr(f, "mmsi", None) for f in facts} == {value}
    elif name == "text":
        assert [f.text for f in facts if isinstance(f, AisText)] == [value]
    elif name in ("aid_type", "virtual", "off_position", "full_name"):
        (aid,) = [f for f in facts if isinstance(f, AisAid)]
        assert getattr(aid, "name" if name == "full_name" else name) == value
    elif name == "name" and static is None:
        (aid,) = [f for f in facts if isinstance(f, AisAid)]
        assert aid.name == value
    elif static is not None and name in ("name", "callsign", "ship_type", "dim", "mothership_mmsi"):
        _static_field(static, name, value)
    elif report is not None and name in REPORT:
        REPORT[name](report, value)
    else:
        return False
    return True


def _static_field(static: AisStatic, name: str, value: Any) -> None:
    if name == "dim":
        size = [
            static.to_bow_m or 0.0,
            static.to_stern_m,
            static.to_port_m or 0.0,
            static.to_starboard_m,
        ]
        assert size == value
    elif name == "mothership_mmsi":
        assert static.mothership == value
    else:
        assert getattr(static, name) == value


def _place(got: float | None, value: float, most: float) -> None:
    assert got == (None if abs(value) > most else pytest.approx(value, abs=1e-6))


def _speed(report: AisReport, value: float) -> None:
    absent = value in (102.3, 1023) or (report.station == "long-range" and value == 63)
    if absent:
        assert report.speed_ms is None
    else:
        assert report.speed_ms == pytest.approx(value * MS_PER_KN)


def _course(report: AisReport, value: float) -> None:
    assert report.course_deg == (None if value >= 360 else pytest.approx(value))


def _turn(report: AisReport, value: float) -> None:
    if abs(value) >= 127:
        assert report.turn_deg_min is None
    else:
        assert report.turn_deg_min == pytest.approx((value / 4.733) ** 2)


def _heading(report: AisReport, value: float) -> None:
    assert report.heading_deg == (None if value >= 360 else value)


def _second(report: AisReport, value: int) -> None:
    assert report.second == (None if value >= 60 else value)


def _exactly(got: object, value: object) -> None:
    assert got == value


REPORT: dict[str, Any] = {
    "lat": lambda r, v: _place(r.lat, v, 90.0),
    "lon": lambda r, v: _place(r.lon, v, 180.0),
    "speed": _speed,
    "course": _course,
    "turn": _turn,
    "heading": _heading,
    "second": _second,
    "status": lambda r, v: _exactly(r.nav_status, v),
    "pos_acc": lambda r, v: _exactly(r.accurate, bool(v)),
    "cs_unit": lambda r, v: _exactly(r.carrier_sense, bool(v)),
}


# -- gpsd's decode beside its own sample: CSV, unscaled, in message order ---------------------

CSV = {
    1: "type repeat mmsi status turn speed accuracy lon lat course heading second",
    4: "type repeat mmsi time accuracy lon lat",
    5: "type repeat mmsi imo version callsign shipname shiptype to_bow to_stern to_port"
    " to_starboard",
    9: "type repeat mmsi alt speed accuracy lon lat course second",
    14: "type repeat mmsi text",
    18: "type repeat mmsi reserved speed accuracy lon lat course heading second",
    19: "type repeat mmsi reserved speed accuracy lon lat course heading second regional"
    " shipname shiptype to_bow to_stern to_port to_starboard",
    21: "type repeat mmsi aid_type name accuracy lon lat to_bow to_stern to_port to_starboard"
    " epfd second regional off_position",
    27: "type repeat mmsi status accuracy lon lat speed course",
}
CSV[2] = CSV[3] = CSV[1]


def test_gpsd_sample_of_every_type() -> None:
    """Message by message the same fields as gpsd's own check file, and none missed."""
    rows = []
    for line in (DATA / "every_type.chk").read_text(encoding="latin-1").splitlines():
        values = line.split("|")
        if values[0].isdigit() and int(values[0]) in CSV:
            rows.append(dict(zip(CSV[int(values[0])].split(), values, strict=False)))
    lines = Framer().feed((DATA / "every_type.aivdm").read_bytes())
    ours = [
        heard.observations
        for _, heard in listen(lines)
        if heard.verdict == "good" and not _is_24(heard.observations)
    ]
    checked: Counter[str] = Counter()
    for row in rows:
        match = [facts for facts in ours if _same_message(facts, row)]
        if not match:
            checked["refused " + row["type"]] += 1
            continue
        ours.remove(match[0])
        _same_fields(match[0], row)
        checked[row["type"]] += 1
    assert not ours, "messages that gpsd does not have"
    assert not [kind for kind in checked if kind.startswith("refused")], checked
    assert set(checked) >= {"1", "2", "3", "4", "5", "9", "14", "18", "19", "21", "27"}


def _is_24(facts: tuple[Observation, ...]) -> bool:
    # gpsd's CSV joins 24 A and B; they are compared in the JSON files below.
    return len(facts) == 1 and isinstance(facts[0], AisStatic) and facts[0].station == "B"


def _same_message(facts: tuple[Observation, ...], row: dict[str, Any]) -> bool:
    if getattr(facts[0], "mmsi", None) != int(row["mmsi"]):
        return False
    first = facts[0]
    if isinstance(first, AisReport) and "lat" in row:
        scale = 600.0 if row["type"] == "27" else 600_000.0
        there = abs(int(row["lat"]) / scale) <= 90 and abs(int(row["lon"]) / scale) <= 180
        if not there or first.lat is None:
            return first.lat is None and not there
        return abs(first.lat - int(row["lat"]) / scale) < 1e-9
    if isinstance(first, AisText):
        return first.text == row.get("text")
    if isinstance(first, AisStatic):
        return (first.name or "") == row.get("shipname")
    return False


def _same_fields(facts: tuple[Observation, ...], row: dict[str, Any]) -> None:
    """One of gpsd's messages, unscaled, against our facts."""
    for fact in facts:
        if isinstance(fact, AisReport):
            _same_report(fact, row)
        elif isinstance(fact, AisStatic):
            assert (fact.name or "") == row["shipname"].strip(" @")
            assert (fact.ship_type or 0) == int(row["shiptype"])
            sizes = (fact.to_bow_m, fact.to_stern_m, fact.to_port_m, fact.to_starboard_m)
            names = ("to_bow", "to_stern", "to_port", "to_starboard")
            assert [s or 0.0 for s in sizes] == [float(row[name]) for name in names]
            if "callsign" in row:
                assert (fact.callsign or "") == row["callsign"]
        elif isinstance(fact, AisAid):
            assert fact.name == row["name"]
            assert fact.aid_type == int(row["aid_type"])


def _same_report(fact: AisReport, row: dict[str, Any]) -> None:
    tenths = row["type"] not in ("9", "27")
    unknown = {"27": 63}.get(row["type"], 1023)
    if "speed" in row:
        speed = int(row["speed"])
        knots = speed / 10 if tenths else float(speed)
        assert fact.speed_ms == (None if speed == unknown else pytest.approx(knots * MS_PER_KN))
        course = int(row["course"]) / (1 if row["type"] == "27" else 10)
        assert fact.course_deg == (None if course >= 360 else pytest.approx(course))
    if "heading" in row:
        heading = int(row["heading"])
        assert fact.heading_deg == (None if heading >= 360 else heading)
    if "status" in row:
        assert fact.nav_status == int(row["status"])
    if "second" in row:
        second = int(row["second"])
        assert fact.second == (None if second >= 60 else second)
    accuracy = row["accuracy"]
    assert fact.accurate == (accuracy in ("1", "true", True))


# -- gpsd's JSON behind each sentence -------------------------------------------------------


@pytest.mark.parametrize("name", ["mixed_feed", "class_b", "transponder"])
def test_gpsd_json(name: str) -> None:
    """Every message of ours that gpsd decodes has the same fields, and the other way round."""
    sentences: list[str] = []
    objects: list[dict[str, Any]] = []
    for line in (DATA / f"{name}.chk").read_text(encoding="latin-1").splitlines():
        if line.startswith("{"):
            decoded = json.loads(line)
            # Behind a sentence that is no AIS, gpsd may print the last message again.
            again = bool(objects) and decoded == objects[-1]
            if decoded["class"] == "AIS" and decoded["type"] in TYPES and not again:
                objects.append(decoded)
        elif line.startswith("!"):
            sentences.append(line)
    ours = [h for _, h in listen(sentences) if h.observations]
    compared = 0
    waiting = list(objects)
    for heard in ours:
        row = next((o for o in waiting if _json_same(heard.observations, o)), None)
        if row is None:
            assert _is_24(heard.observations), heard  # gpsd holds part A until part B
            continue
        waiting.remove(row)
        _same_fields(heard.observations, {k: _plain(v) for k, v in row.items()})
        compared += 1
    assert not waiting, waiting[:2]
    assert compared >= 14


def _json_same(facts: tuple[Observation, ...], row: dict[str, Any]) -> bool:
    if row["type"] == 24 and isinstance(facts[0], AisStatic):
        return facts[0].mmsi == row["mmsi"] and facts[0].name is None
    plain = {k: _plain(v) for k, v in row.items()}
    wanted = AisStatic if row["type"] == 5 else AisText if row["type"] == 14 else AisReport
    return isinstance(facts[0], wanted) and _same_message(facts, plain)


def _plain(value: Any) -> str:
    return {True: "1", False: "0"}[value] if isinstance(value, bool) else str(value)


# -- whole feeds against pyais -----------------------------------------------------------------


@pytest.mark.parametrize("name", ["coast_tagged.nm4", "many_stations.txt", "empty_payloads.txt"])
def test_recorded_feeds_against_pyais(name: str) -> None:
    """pyais, given only whole and sound messages, says the same of all of them."""
    lines = Framer().feed((DATA / name).read_bytes())
    messages = listen(lines)
    verdicts = Counter(heard.verdict for _, heard in messages)
    compared = 0
    for parts, heard in messages:
        if heard.verdict != "good" or heard.kind not in ("VDM", "VDO"):
            continue
        if len(parts) != int(parts[-1].partition("!")[2].split(",")[1]):
            continue
        message = by_pyais(*(part[part.index("!") :] for part in parts))
        first = heard.observations[0]
        assert getattr(first, "mmsi", None) == message.mmsi
        if isinstance(first, AisReport) and first.lat is not None and first.lon is not None:
            assert (message.lat, message.lon) == (
                pytest.approx(first.lat, abs=1e-6),
                pytest.approx(first.lon, abs=1e-6),
            )
        if isinstance(first, AisStatic) and first.name is not None:
            assert message.shipname.partition("@")[0].strip() == first.name
        compared += 1
    assert compared > 50, verdicts


def test_a_coast_with_tag_blocks() -> None:
    """Every line has its time, and none is bad; but where the log's maker wrote groups into
    TAG blocks without a new checksum, the block says nothing and its sentence stands."""
    lines = Framer().feed((DATA / "coast_tagged.nm4").read_bytes())
    decoder = Decoder()
    heards = [decoder.decode(0.0, "coast", line) for line in lines]
    assert len(heards) == 200
    for line, heard in zip(lines, heards, strict=True):
        stale = line.startswith("\\g:")
        assert heard.tag_time_s is None if stale else heard.tag_time_s > 1.4e9  # type: ignore[operator]  # a None here is the failure
    assert {heard.verdict for heard in heards} <= {"good", "partial", "duplicate"}


def test_empty_payloads_are_counted_and_passed_over() -> None:
    """An untimed log with empty payloads: each is bad, the rest is read."""
    lines = Framer().feed((DATA / "empty_payloads.txt").read_bytes())
    heards = [heard for _, heard in listen(lines)]
    whys = Counter(heard.why for heard in heards if heard.verdict == "bad")
    assert set(whys) == {"empty payload"}
    assert whys["empty payload"] == sum(",,0*" in line for line in lines) > 5


def test_the_types_of_payloads_are_told_by_their_first_character() -> None:
    """All 64 characters of the armour (E. S. Raymond, AIVDM/AIVDO protocol decoding)."""
    assert TYPE_OF[b"0"] == 0
    assert TYPE_OF[b"W"] == 39
    assert TYPE_OF[b"`"] == 40
    assert TYPE_OF[b"w"] == 63
    assert len(TYPE_OF) == 64
