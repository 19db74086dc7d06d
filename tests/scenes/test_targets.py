"""Ships about the boat, through the real engine: one situation, one call; nothing seen is lost."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from shipkeeper.words.geo import offset

from .sea import HERE, Sea, vdm

ZONE = """
[[zone]]
name = "guard zone"
around = "anchor"
ring = { to = "0.25 NM" }
"""
LEAVING = ZONE + 'alarm_on = "leaving"\n'
CLOSE = """
[[proximity]]
name = "close quarters"
cpa = "0.3 NM"
tcpa = "12 min"
within = "4 NM"
"""


def at_anchor(folder: Path, orders: str) -> Sea:
    sea = Sea(folder, orders)
    sea.run(3)
    assert sea.anchor().code == 0
    sea.run(3)
    return sea


def test_a_regatta_is_one_sound_one_message_and_a_list_of_twenty(tmp_path: Path) -> None:
    """IMO MSC.252(83) 22.2 (second-hand): one header stands for many alerts of one kind."""
    sea = at_anchor(tmp_path, ZONE)
    for i in range(20):
        sea.named(i + 1, f"RACER {i + 1}", (5, 4, 1, 1), 36)
    for step in range(5):
        for i in range(20):
            sea.ship(i + 1, 18.0 * i, 800 - 100 * step, kn=6, course=18 * i + 180, kind=18)
        sea.run(20)
    assert len(sea.raised()) == 20
    (message,) = [m for m in sea.sends if m.event == "raised"]
    assert message.outlet == "skipper" and message.title.startswith("20 ")
    assert all(f"RACER {i + 1}" in message.text for i in range(20))
    assert max(sound.fresh for sound in sea.sounds) == 1
    reply = sea.obey("ack", id="guard-zone")
    assert reply.code == 0 and len(reply.data["ids"]) == 20


def test_one_after_the_other_the_list_grows_without_a_new_sound(tmp_path: Path) -> None:
    """Twenty over ten minutes, the first acknowledged at once: the list, not twenty calls."""
    sea = at_anchor(tmp_path, ZONE)
    for second in range(200):
        for i in range(20):
            if second % 10 == 0 and second >= 2 * i:
                sea.ship(i + 1, 18.0 * i, 300, kn=2, course=18 * i + 90, kind=18)
        sea.run(1)
        if second == 40:
            assert len([m for m in sea.sends if m.event == "raised"]) <= 3
            assert max(sound.fresh for sound in sea.sounds) == 1
    assert len(sea.raised()) == 20


def test_neighbours_outlive_a_power_cut_three_seconds_after_the_watch_was_set(
    tmp_path: Path,
) -> None:
    """By identity; raised when one has left and comes back."""
    sea = Sea(tmp_path, ZONE)
    sea.ship(1, 90, 200, status=1)
    sea.run(3)
    assert "neighbours 299000001" in sea.anchor().text
    sea.run(3)
    sea.crash(20)
    for _ in range(20):
        sea.ship(1, 90, 200, status=1)
        sea.run(10)
    assert sea.raised() == []
    for away in (400, 600, 700, 700, 700, 700, 700, 700, 700, 700, 400, 200):
        sea.ship(1, 90, away, kn=4)
        sea.run(10)
    assert sea.raised() == ["guard-zone:299000001"]


def test_a_zone_switched_off_stays_so_over_a_power_cut_and_returns_by_itself(
    tmp_path: Path,
) -> None:
    sea = at_anchor(tmp_path, ZONE)
    asked = {"name": "guard zone", "on": False, "for_s": 60.0}
    assert sea.obey("zone", **asked, why="").code == 2
    assert sea.obey("zone", **asked, why="guests come").code == 0
    sea.run(2)
    sea.crash(5)
    for second in range(70):
        if second % 5 == 0:
            sea.ship(1, 0, 200, kn=2)
        sea.run(1)
        if second == 30:
            (rule,) = (r for r in sea.obey("status").data["rules"] if r["name"] == "guard zone")
            assert rule["off_until"] and "guests come" in rule["filters"][0]
            assert sea.raised() == []
    assert sea.raised() == ["guard-zone:299000001"]
    assert any(n.kind == "zone" and "is on again" in n.text for n in sea.notes)
    assert any(n.kind == "command" and "off until" in n.text for n in sea.notes)


def test_leaving_ends_when_it_is_acknowledged_also_over_a_power_cut(tmp_path: Path) -> None:
    """And is told again when she has been back."""
    sea = Sea(tmp_path, LEAVING)
    sea.ship(1, 0, 200)
    sea.run(3)
    sea.anchor()
    sea.run(3)

    def sail(*ranges: float) -> None:
        for away in ranges:
            sea.ship(1, 0, away, kn=8)
            sea.run(10)

    sail(200, 300, 400, 500, 600)
    assert sea.raised() == ["guard-zone:299000001"]
    assert "has left" in sea.words("guard-zone:299000001")
    assert sea.obey("ack", id="guard-zone:299000001").code == 0
    assert sea.standing() == {}
    sail(700, 800)
    sea.crash()
    sail(800, 800, 800)
    assert sea.standing() == {} and len(sea.raised()) == 1
    sail(600, 400, 200, 200, 400, 600, 800)
    assert len(sea.raised()) == 2


def test_leaving_that_nobody_has_seen_stands_over_a_power_cut(tmp_path: Path) -> None:
    sea = Sea(tmp_path, LEAVING)
    sea.ship(1, 0, 200)
    sea.run(3)
    sea.anchor()
    sea.run(3)
    for away in (400, 500, 600):
        sea.ship(1, 0, away, kn=8)
        sea.run(10)
    sea.crash()
    for _ in range(20):
        sea.ship(1, 0, 700, kn=0)
        sea.run(10)
    assert sea.standing()["guard-zone:299000001"].state.value.endswith("unacknowledged")


def test_lost_in_a_zone_is_a_warning_with_the_last_position(tmp_path: Path) -> None:
    """IMO MSC.192(79) 5.29.5 (from memory). Seen to be lost and heard again there, she has not
    come in anew; outside nobody is called, and the journal has it."""
    sea = at_anchor(tmp_path, ZONE)
    for _ in range(12):
        sea.ship(1, 0, 300, kn=1, course=90)
        sea.ship(2, 0, 3000, kn=1, course=90)
        sea.run(5)
    assert sea.obey("ack", id="guard-zone").code == 0
    sea.run(80)
    words = sea.words("guard-zone:299000001")
    place = offset(HERE, 0, 300)
    assert "fell silent" in words and f"Last position 57°{(place.lat - 57) * 60:06.3f}'N" in words
    lost = [n.text for n in sea.notes if n.kind == "target"]
    assert len(lost) == 2 and sea.raised() == ["guard-zone:299000001"]
    assert sea.obey("ack", id="guard-zone").code == 0
    for _ in range(12):
        sea.ship(1, 0, 290, kn=1, course=90)
        sea.run(5)
    assert sea.standing() == {}


def test_lost_while_closing_is_told_and_while_opening_only_logged(tmp_path: Path) -> None:
    sea = at_anchor(tmp_path, CLOSE)
    for second in range(0, 300, 5):
        sea.ship(1, 0, 4500 - 6.17 * second, kn=12, course=180)
        sea.ship(2, 90, 1500 + 6.17 * second, kn=12, course=90)
        sea.run(5)
    assert sea.raised() == ["close-quarters:299000001"]
    sea.run(100)
    words = sea.words("close-quarters:299000001")
    assert "fell silent while closing" in words
    # 2,680 m when last heard, less 20 m of ship and boat; reckoned on she would be 430 m off.
    assert "last known 1.43 NM, bearing 000" in words
    assert sea.raised() == ["close-quarters:299000001"]
    assert sum("is lost" in n.text for n in sea.notes) == 2


def test_a_spoofed_place_is_held_back_until_three_reports_agree(tmp_path: Path) -> None:
    sea = at_anchor(tmp_path, ZONE)

    def report(*ranges: float) -> None:
        for away in ranges:
            sea.ship(1, 0, away, kn=8, course=90)
            sea.run(10)

    report(*[9000] * 6, 200, 9000, 9000, 200, 200, 9000)
    assert sea.raised() == []
    (row,) = sea.obey("targets").data["targets"]
    assert row["range_m"] > 8000
    report(200, 200)
    assert sea.obey("targets").data["targets"][0]["held_back"] and sea.raised() == []
    report(200)
    assert sea.raised() == ["guard-zone:299000001"]
    assert any("held back until three reports agree" in n.text for n in sea.notes)


def test_a_turning_ship_is_told_as_turning_and_no_finer_than_is_known(tmp_path: Path) -> None:
    """She steers past, but turns towards us at 30 degrees a minute."""
    sea = at_anchor(tmp_path, CLOSE)
    for _ in range(6):
        sea.ship(1, 105, 2800, kn=12, course=0, heading=0, turn=-30.0)
        sea.run(3)
    (words,) = (record.text for record in sea.standing().values())
    assert "is turning: on her curve she will pass" in words
    assert "within" in words or "+/-" in words


def test_calls_for_help_are_told_apart_with_what_to_do(tmp_path: Path) -> None:
    """Active and test, near and far; an aid off its place; a safety text; never instead of the
    radio watch. Identities: ITU-R M.585-9 (970, 972, 974)."""
    sea = at_anchor(tmp_path, ZONE)
    sea.ship(0, 30, 2500, status=14, mmsi=970299001)
    sea.text(970299001, "SART ACTIVE")
    sea.ship(0, 30, 300, status=14, mmsi=972299002)
    sea.ship(0, 30, 5000, status=15, mmsi=970299003)
    sea.text(970299003, "SART TEST")
    sea.ship(0, 30, 9000, status=14, mmsi=974299004)
    sea.text(299000055, "FOG IN POLLARDS REACH")
    aid = {"msg_type": 21, "mmsi": "992991001", "aid_type": 24, "name": "RED REEF", "lat": 57.11,
           "lon": -5.2, "off_position": True, "virtual_aid": False, "second": 10}  # fmt: skip
    sea.hear(*vdm(aid))
    sea.run(10)
    stand = {key: (r.priority.label, r.text) for key, r in sea.standing().items()}
    for key, priority, parts in (
        ("distress:970299001", "alarm", ("1.35 NM, bearing 030", "SART ACTIVE", "coastguard")),
        ("distress:972299002", "emergency alarm", ("300 m, bearing 030", "count heads")),
        ("distress:970299003", "caution", ("(TEST)", "is on test", "no call for help")),
        ("distress:974299004", "alarm", ("4.86 NM, bearing 030", "Position 57°")),
        ("distress:text-299000055", "caution", ("FOG IN POLLARDS REACH", "channel 16")),
        ("distress:992991001", "caution", ("off its position", "0.60 NM", "do not steer")),
    ):
        label, text = stand[key]
        assert label == priority, key
        for part in parts:
            assert part in text, text
        assert "no substitute for the radio watch" in text or "992991001" in key


def test_own_ship_leaves_the_berth_crosses_a_line_and_nears_a_danger(tmp_path: Path) -> None:
    own = """
[[zone]]
name = "berth"
subject = "own ship"
around = [57.1, -5.2]
ring = { to = "40 m" }
alarm_on = "leaving"
[[zone]]
name = "fairway"
subject = "own ship"
line = [[57.102, -5.21], [57.102, -5.19]]
[[zone]]
name = "reef"
subject = "own ship"
around = [57.105, -5.2]
ring = { to = "150 m" }
"""
    sea = Sea(tmp_path, own)
    sea.run(3)
    assert 'zone "berth": own ship is inside now' in sea.obey("berth", how="here").text
    sea.run(3)
    for north in range(0, 420, 3):
        sea.own = offset(HERE, 0, float(north))
        sea.run(1)
        if north == 300:
            sea.crash(2)
    assert sea.raised() == ["berth", "fairway", "reef"]
    assert "Own ship has left" in sea.words("berth") and "outside" in sea.words("berth")
    assert 'past "fairway"' in sea.words("fairway")
    assert "bearing 000" in sea.words("reef") and "look where she is" in sea.words("reef")


def test_a_flood_of_forged_ships_hides_no_real_one(tmp_path: Path) -> None:
    """3,000 identities beside us in four minutes: a caution before it is full, a bounded set,
    and the ship that was closing before is told all the same."""
    sea = at_anchor(tmp_path, CLOSE)
    sea.engine.picture.targets.capacity = 200
    forged = 300_000
    for second in range(240):
        if second % 10 == 0:
            sea.ship(1, 0, 5500 - 6.17 * second, kn=12, course=180)
        if second > 30:
            for i in range(7):
                place = offset(HERE, i * 51.0, 1200.0)
                sea.ship_at(forged, place, kn=20, course=i * 51.0)
                forged += 1
        sea.run(1)
        assert len(sea.engine.picture.targets) <= 1.25 * 200
    assert "close-quarters:299000001" in sea.raised()
    crowd = next(line for line in sea.lines if line.transition.kind == "self")
    assert crowd.transition.priority == "caution" and "targets are held" in crowd.transition.text
    assert sum(n.kind == "target" for n in sea.notes) < 40 * 4
    status = sea.obey("status").data
    assert status["targets_shed"] > 0 and status["target_room"] == 200


@pytest.mark.parametrize("end", ["own", "anchor", "SHAG", "299000001", "57.1,-5.19"])
def test_measure_from_anything_to_anything(tmp_path: Path, end: str) -> None:
    """Against the geodesic from the anchor (pyproj; 57.1 N: 0.01 deg of longitude is 606 m)."""
    sea = at_anchor(tmp_path, ZONE)
    sea.named(1, "SHAG")
    sea.ship(1, 45, 1000)
    sea.run(1)
    reply = sea.obey("measure", **{"from": "anchor", "to": end})
    assert reply.code == 0, reply.text
    wanted = {"own": 0.0, "anchor": 0.0, "57.1,-5.19": 606.0}.get(end, 1000.0)
    assert reply.data["range_m"] == pytest.approx(wanted, abs=1.0)
    json.dumps(reply.data)
    assert sea.obey("measure", **{"from": "own", "to": "NOBODY"}).code == 2


def test_radar_targets_in_a_form_that_is_not_read_are_no_empty_sea(tmp_path: Path) -> None:
    """TTD's bit layout is in no source at hand: `status` says that it is not read."""
    sea = at_anchor(tmp_path, ZONE)
    sea.hear("!RATTD,1,1,1,>0P0h0Q0P0h0Q0P0,0*14", wire="boat")
    boat = next(i for i in sea.obey("status").data["inputs"] if i["name"] == "boat")
    assert "NOT READ" in boat["unread"]
    sea.echo(7, 10, 2000)
    boat = next(i for i in sea.obey("status").data["inputs"] if i["name"] == "boat")
    assert boat["unread"] == ""


def test_forged_calls_for_help_do_not_eat_memory_or_time(tmp_path: Path) -> None:
    """700 of them within ten seconds: 500 by name, one warning that there are more, and not a
    judgement for each line."""
    sea = at_anchor(tmp_path, ZONE)
    for second in range(10):
        for i in range(70):
            sea.ship(0, i * 5.0, 3000, status=14, mmsi=970000000 + 70 * second + i)
        sea.run(1)
    stand = sea.standing()
    assert sum(key.startswith("distress:") for key in stand) == 500
    (swamped,) = (r for r in stand.values() if r.title == "TOO MANY ALERTS")
    assert swamped.priority.label == "warning" and '"distress" has 500 alerts' in swamped.text
    assert len(sea.sends) < 10


@pytest.mark.parametrize("second", [0.0, 0.4])
def test_a_neighbour_whose_name_comes_before_her_place_is_a_neighbour(
    tmp_path: Path, second: float
) -> None:
    """She lies at anchor and reports every three minutes; her name was heard first, and her
    place in the very second of a judgement or between two."""
    sea = at_anchor(tmp_path, ZONE)
    sea.named(1, "SITTER")
    sea.run(40)
    sea.run(second, step=0.1)
    sea.ship(1, 90, 200, kn=0, course=0, status=1)
    sea.run(30)
    assert sea.raised() == []


def test_a_ship_without_speed_and_course_is_judged_by_her_places(tmp_path: Path) -> None:
    """Both 'not available', ten knots straight for us by her positions: told minutes before."""
    sea = at_anchor(tmp_path, CLOSE)
    for i in range(30):
        sea.ship(1, 0, 2500 - 51.4 * i, kn=102.3, course=360)
        sea.run(10)
        if sea.raised():
            break
    assert sea.raised() and i < 8
    assert "course 180, as its places show" in sea.words("close-quarters:299000001")


@pytest.mark.parametrize("orders", [ZONE, CLOSE])
def test_echoes_that_nobody_can_place_are_told(tmp_path: Path, orders: str) -> None:
    """A radar that tells bearings from the bow, and no heading on the boat: she comes within
    100 m unseen, so the watch says that it is blind, and for want of what."""
    sea = at_anchor(tmp_path, orders)
    for i in range(40):
        sea.echo(7, 25, 1500 - 35 * i, kn=27, course=205, angles="R")
        sea.run(2.5, step=0.5)
    (blind,) = [r for r in sea.standing().values() if r.rule == "feed"]
    assert blind.priority.label == "alarm" and "heading" in blind.text
    sea.heading = 20.0
    sea.run(10)
    sea.echo(7, 25, 300, kn=27, course=205, angles="R")
    sea.run(100)
    assert "rectified" in sea.standing()[blind.id].state.value


def test_a_beacon_in_the_zone_is_one_situation(tmp_path: Path) -> None:
    """A MOB beacon drifts through the guard zone close by: one call, for the person in the
    water; that it is in a zone stands on the list."""
    sea = at_anchor(tmp_path, ZONE)
    for _ in range(3):
        sea.ship(0, 200, 300, kn=1.0, status=14, mmsi=972290003)
        sea.run(10)
    stand = sea.standing()
    assert stand["distress:972290003"].priority.label == "emergency alarm"
    assert stand["guard-zone:972290003"].group == "distress:972290003"
    (message,) = [m for m in sea.sends if m.event == "raised"]
    assert "MOB" in message.title


@pytest.mark.parametrize("limits", ["left = 0, right = 360", "left = 90, right = 90"])
def test_a_sector_all_round_wants_no_heading(tmp_path: Path, limits: str) -> None:
    """Relative or true: the whole circle is the same on any heading."""
    orders = ZONE.replace(
        'ring = { to = "0.25 NM" }',
        f'sector = {{ {limits}, to = "0.25 NM", bearings = "relative" }}',
    )
    sea = at_anchor(tmp_path, orders.replace("anchor", "ship"))
    sea.run(400)
    sea.ship(1, 90, 300, kn=5, course=270)
    sea.run(10)
    assert sea.raised("guard zone") == ["guard-zone:299000001"]


def test_a_ship_that_the_radar_numbers_anew_is_called_once(tmp_path: Path) -> None:
    """Lost for three turns of the antenna in the middle of the approach, then tracked as 19."""
    sea = at_anchor(tmp_path, CLOSE)
    for i in range(120):
        if i == 60:
            sea.echo(7, 45, 2500 - 10 * i, kn=7.8, course=225, status="L")
        elif not 60 < i < 64:
            number = 7 if i < 60 else 19
            sea.echo(number, 45, 2500 - 10 * i, kn=7.8, course=225, status="Q" if i == 64 else "T")
        sea.run(2.5, step=0.5)
    assert sea.raised() == ["close-quarters:radar-7"]
    assert "radar target 19 will pass" in sea.words("close-quarters:radar-7")


@pytest.mark.parametrize("missed", [6, 2])
@pytest.mark.parametrize(("orders", "called_s"), [(CLOSE, 290), (ZONE, 890)])
@pytest.mark.parametrize("silent_from", [100, 625])
def test_a_ship_whose_ais_falls_silent_goes_on_by_radar(
    tmp_path: Path, orders: str, called_s: float, silent_from: float, missed: int
) -> None:
    """She comes straight at us at 4 m/s; before or after the call her transponder stops. One
    call, by her name, with the radar's data; and when that loses her too, that is told."""
    sea = at_anchor(tmp_path, orders + f"lost_after = {missed}\n")
    sea.named(1, "SEA TERN")
    (slug,) = {"close-quarters"} if orders is CLOSE else {"guard-zone"}
    began_s = sea.now_s
    for i in range(370):
        if i * 2.5 < silent_from and i % 4 == 0:
            sea.ship(1, 45, 4000 - 10 * i, kn=7.8, course=225)
        sea.echo(7, 45, 4000 - 10 * i, kn=7.8, course=225)
        sea.run(2.5, step=0.5)
        if sea.raised() and sea.standing()[f"{slug}:299000001"].acknowledged_s is None:
            assert sea.now_s - began_s <= called_s
            sea.obey("ack", id=f"{slug}:299000001")
    assert sea.raised() == [f"{slug}:299000001"]
    (row,) = sea.obey("targets").data["targets"]
    assert (row["name"], row["source"], row["lost"]) == ("SEA TERN", "radar", False)
    assert row["ais_silent_s"] > 200
    assert row["range_m"] == pytest.approx(310.0, abs=20.0)
    told = sea.words(f"{slug}:299000001")
    assert "SEA TERN" in told and "AIS silent for" in told and "seen by radar" in told
    sea.echo(7, 45, 300, kn=7.8, course=225, status="L")
    sea.run(120)
    told = sea.words(f"{slug}:299000001")
    assert "SEA TERN fell silent" in told and "radar has lost it too" in told
    assert sea.sends[-1].event != "cleared"


def test_a_ship_that_speaks_again_speaks_for_herself(tmp_path: Path) -> None:
    """After minutes by radar alone her next report is taken at once."""
    sea = at_anchor(tmp_path, CLOSE)
    for i in range(300):
        if not 40 <= i < 200 and i % 4 == 0:
            sea.ship(1, 45, 6000 - 10 * i, kn=7.8, course=225)
        sea.echo(7, 45, 6000 - 10 * i, kn=7.8, course=225)
        sea.run(2.5, step=0.5)
        (row,) = sea.obey("targets").data["targets"] if i > 20 else [{}]
        if 80 < i < 199:
            assert row["source"] == "radar"
        if i in (202, 203):
            assert (row["source"], row["ais_silent_s"]) == ("ais+radar", None)
            assert row["age_s"] <= 10.0


def test_an_aircraft_is_told_as_one(tmp_path: Path) -> None:
    """A search and rescue aircraft sends no name (ITU-R M.1371-5, message 9, from memory)."""
    sea = at_anchor(tmp_path, ZONE)
    for i in range(10):
        place = offset(HERE, 45, 2000 - 200 * i)
        said = {"msg_type": 9, "mmsi": "111299001", "lat": place.lat, "lon": place.lon}
        sea.hear(*vdm(said | {"alt": 150, "speed": 80, "course": 225.0, "second": 10}))
        sea.run(5)
    (alert,) = sea.raised()
    assert sea.words(alert).startswith("SAR aircraft 111299001 is in")
