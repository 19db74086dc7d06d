"""Who speaks, who is told, what a restart keeps, and what a person may do: the finer points."""

from __future__ import annotations

import msgspec
import pytest
from tests.unit.alerts.bench import OUTLETS, RULES, START_S, Bench, Phone, gone, holds, ship

from shipkeeper.words.alert import Priority, State, Subject
from shipkeeper.words.events import OutletNews, StoreNews, WorkerNews
from shipkeeper.words.remembered import Remembered

# -- one situation, one announcement -------------------------------------------------------------


def test_a_group_is_answered_by_the_name_of_its_rule() -> None:
    """One announcement, one answer; each alert has its own line and its own acknowledgement."""
    bench = Bench()
    bench.judge("ring", *(holds(ship(n)) for n in range(3)))
    assert bench.command("ack", "ring").code == 0
    assert {bench.state(f"ring:29900000{n}") for n in range(3)} == {State.ACKNOWLEDGED}
    assert len(bench.messages("skipper", "acknowledged")) == 1


def test_one_of_a_group_is_answered_alone_and_the_next_speaks() -> None:
    """The others still call."""
    bench = Bench()
    bench.judge("ring", *(holds(ship(n)) for n in range(3)))
    bench.command("ack", "ring:299000000")
    assert bench.state("ring:299000001") is State.UNACKNOWLEDGED
    assert bench.sound.pattern == "warning"
    assert bench.record("ring:299000001").group is None
    assert bench.record("ring:299000002").group == "ring:299000001"


def test_a_newcomer_to_an_unanswered_group_makes_no_new_sound_and_one_late_push() -> None:
    """News of a group no oftener than each 30 s; the list is whole."""
    bench = Bench()
    bench.judge("ring", holds(ship(0)))
    bench.run(5)
    bench.judge("ring", *(holds(ship(n)) for n in range(4)))
    assert bench.sound.fresh == 1
    assert len(bench.messages("skipper")) == 1
    bench.run(25)
    assert len(bench.messages("skipper")) == 2
    assert "4 together" in bench.messages("skipper")[-1].text


def test_a_newcomer_after_the_answer_is_announced_at_once() -> None:
    """Whoever answered had not seen it."""
    bench = Bench()
    bench.judge("ring", holds(ship(0)))
    bench.command("ack", "ring:299000000")
    bench.judge("ring", holds(ship(0)), holds(ship(1)))
    assert bench.sound.fresh == 2
    assert "SHIP 1" in bench.messages("skipper")[-1].text


def test_the_end_of_a_group_is_told_once_with_the_last() -> None:
    """Twenty ships that leave one by one are one message."""
    bench = Bench()
    bench.judge("ring", *(holds(ship(n)) for n in range(3)))
    bench.command("ack", "ring")
    for left in range(3):
        said = [gone(ship(n)) if n <= left else holds(ship(n)) for n in range(3)]
        bench.say("ring", *said)
        bench.run(61)
    assert len(bench.messages("skipper", "cleared")) == 1


def test_a_ship_on_a_collision_course_speaks_for_her_being_in_a_zone() -> None:
    """One ship, one announcement; the list names the cause."""
    bench = Bench()
    bench.say("close", holds(ship(1)))
    bench.run(11)
    fresh = bench.sound.fresh
    bench.judge("ring", holds(ship(1)), holds(ship(2)))
    assert bench.record("ring:299000001").group == "close:299000001"
    assert bench.record("ring:299000002").group is None
    assert bench.sound.fresh == fresh + 1, "the other ship is news"


def test_accepting_the_cause_does_not_hide_what_it_spoke_for() -> None:
    """IMO offshore-unit code 8.7.4: what then still stands speaks for itself."""
    bench = Bench()
    bench.say("close", holds(ship(1)))
    bench.run(11)
    bench.say("ring", holds(ship(1)))
    bench.run(1)
    bench.command("ack", "close:299000001")
    assert bench.sound.pattern == "warning"
    assert bench.record("ring:299000001").group is None


def test_an_emergency_is_never_spoken_for() -> None:
    """It always sounds itself."""
    rules = dict(RULES)
    rules["ring"] = msgspec.structs.replace(RULES["ring"], priority="emergency alarm")
    bench = Bench(rules=rules)
    bench.say("close", holds(ship(1)))
    bench.run(11)
    bench.judge("ring", holds(ship(1)))
    assert bench.record("ring:299000001").group is None
    assert bench.sound.pattern == "emergency"


# -- events: what nothing ends by itself -----------------------------------------------------------


@pytest.mark.parametrize("event", ["left", "lost"])
def test_what_left_or_was_lost_stands_until_it_is_seen(event: str) -> None:
    """Acknowledged, it is over, and is not raised again while nothing new happens."""
    bench = Bench()
    bench.say("ring", holds(ship(1), facts={"event": event}))
    bench.run(100)
    assert bench.state("ring:299000001") is State.UNACKNOWLEDGED
    bench.command("ack", "ring:299000001")
    assert bench.path("ring:299000001")[-1] == ("normal", "acknowledge")
    bench.run(100)
    assert bench.path("ring:299000001")[-1] == ("normal", "acknowledge")
    bench.say("ring", holds(ship(1), facts={"event": "entered"}))
    bench.tick()
    assert bench.state("ring:299000001") is State.UNACKNOWLEDGED
    assert bench.record("ring:299000001").occurrence == 2


def test_back_inside_and_out_again_is_new() -> None:
    """The seen event ends with a verdict that says so."""
    bench = Bench()
    bench.judge("ring", holds(ship(1), facts={"event": "left"}))
    bench.command("ack", "ring:299000001")
    bench.judge("ring", gone(ship(1)))
    bench.judge("ring", holds(ship(1), facts={"event": "left"}))
    assert bench.state("ring:299000001") is State.UNACKNOWLEDGED


# -- people ----------------------------------------------------------------------------------------


def test_everyone_who_was_called_hears_who_has_it_and_when_it_is_over() -> None:
    """Alarm at 0, mate at 30 s; both are told twice more."""
    bench = Bench()
    bench.say("drag", holds(at_once=True))
    bench.run(40)
    bench.command("ack", "drag", who="Ann")
    bench.say("drag", gone())
    bench.run(125)
    for outlet in ("skipper", "mate"):
        assert [m.event for m in bench.messages(outlet)][-2:] == ["acknowledged", "cleared"]
        assert "Ann has it" in bench.messages(outlet, "acknowledged")[0].text
        assert "Cleared after 3 min" in bench.messages(outlet, "cleared")[0].text


def test_a_log_is_told_every_transition_and_people_only_what_calls_them() -> None:
    """Silence and its end are for the log."""
    bench = Bench()
    bench.say("drag", holds(at_once=True))
    bench.run(1)
    bench.command("silence")
    bench.wait(10)
    assert len(bench.messages("log")) == len(bench.lines()) == 2
    assert len(bench.messages("skipper")) == 1


def test_cautions_reach_people_as_a_digest_once_an_hour() -> None:
    """The first at once, the next together."""
    bench = Bench(outlets=(Phone(name="skipper"),), call_list=())
    bench.say("battery", holds())
    bench.run(3)
    bench.say("battery", gone())
    bench.run(11)
    for _ in range(5):
        bench.board.tell("store", True, bench.now_s, facts={"what": "the store"})
        bench.board.tell("store", False, bench.now_s)
        bench.gather()
        bench.wait(60)
    bench.wait(3600)
    assert [m.event for m in bench.messages("skipper")] == ["note", "note"]
    assert "The store does not work" in bench.messages("skipper")[-1].text


def test_the_level_goes_up_with_the_stages_and_sharpens_the_sound() -> None:
    """3+2 pulses from the second stage on."""
    bench = Bench()
    bench.say("drag", holds(at_once=True))
    bench.run(1)
    assert bench.sound.pattern == "alarm"
    bench.wait(30)
    assert (bench.record("drag").level, bench.sound.pattern) == (2, "alarm stage 2")


# -- sound and lamp --------------------------------------------------------------------------------


def test_the_most_urgent_decides_and_flashing_is_for_the_unanswered() -> None:
    """Light and sound use one code."""
    bench = Bench()
    bench.say("battery", holds())
    bench.run(3)
    assert (bench.sound.pattern, bench.sound.lamp) == ("silence", "steady")
    bench.judge("ring", holds(ship(1)))
    assert (bench.sound.pattern, bench.sound.lamp) == ("warning", "flash")
    bench.judge("float", holds())
    assert (bench.sound.pattern, bench.sound.lamp) == ("emergency", "flash")
    for ident in ("float", "ring:299000001"):
        bench.command("ack", ident)
    assert (bench.sound.pattern, bench.sound.lamp) == ("silence", "steady")


def test_a_drill_sounds_as_a_drill_and_is_marked_everywhere() -> None:
    """And a real alert sounds over it."""
    bench = Bench()
    bench.judge("ring", holds(ship(1), facts={"drill": True}))
    assert bench.sound.pattern == "drill"
    assert bench.messages("skipper")[0].drill
    assert "DRILL" in bench.messages("skipper")[0].line
    bench.judge("hatch", holds())
    assert bench.sound.pattern == "warning"


def test_only_the_buzzers_that_the_orders_call() -> None:
    """A rule without `call` calls all."""
    rules = dict(RULES)
    rules["hatch"] = msgspec.structs.replace(RULES["hatch"], call=("buzzer", "skipper"))
    bench = Bench(rules=rules)
    bench.judge("hatch", holds())
    assert bench.sound.outlets == ("buzzer", "skipper")
    bench.judge("float", holds())
    assert bench.sound.outlets is None


def test_a_sound_of_an_equal_priority_does_not_end_a_silence_but_a_higher_does() -> None:
    """MSC.302(87): the new alert sounds itself in either case."""
    bench = Bench()
    bench.judge("hatch", holds())
    bench.command("silence")
    bench.judge("ring", holds(ship(1)))
    assert bench.state("hatch") is State.SILENCED
    bench.judge("float", holds())
    assert bench.state("hatch") is State.UNACKNOWLEDGED


# -- the watch's own parts -------------------------------------------------------------------------


def test_parts_of_the_watch_have_alerts_of_their_own() -> None:
    """A lost buzzer is a warning, the rest are cautions; they go when it works again."""
    bench = Bench()
    now_s = bench.now_s
    bench.board.news(OutletNews(now_s, "skipper", False, "no route"), now_s)
    bench.board.news(OutletNews(now_s, "buzzer", False, "no such line"), now_s)
    bench.board.news(StoreNews(now_s, False, "disk full"), now_s)
    bench.board.news(WorkerNews(now_s, "input gnss", False, "died"), now_s)
    bench.gather()
    assert bench.state("self:outlet-skipper") is State.ACTIVE
    assert bench.state("self:outlet-buzzer") is State.UNACKNOWLEDGED
    assert bench.sound.pattern == "fault"
    assert "disk full" in bench.record("self:store").text
    bench.board.news(StoreNews(now_s, True), now_s)
    bench.gather()
    assert bench.state("self:store") is State.NORMAL
    states = {row["name"]: row["up"] for row in bench.board.outlet_states()}
    assert states == {"buzzer": False, "skipper": False, "mate": None, "log": None}


# -- restart ---------------------------------------------------------------------------------------


def test_calls_go_on_where_they_had_come_and_do_not_all_come_again() -> None:
    """At 130 s everybody was called; after 5 s of darkness the next is due at 300 s."""
    bench = Bench()
    bench.say("drag", holds(at_once=True))
    bench.run(1)
    bench.wait(130)
    later = bench.restarted(gap_s=5.0)
    assert [m.outlet for m in later.messages(kind="repeat")] == ["skipper", "mate"]
    later.wait(164)
    assert len(later.messages(kind="repeat")) == 2
    later.wait(2)
    assert len(later.messages(kind="repeat")) == 4


def test_a_clock_that_was_set_meanwhile_moves_no_timer() -> None:
    """Engine seconds of two runs are compared by the last sign of life and the gap."""
    bench = Bench()
    bench.say("blow", holds())
    bench.run(6)
    bench.command("ack", "blow")
    bench.command("shelve", "blow", for_s=600.0, why="known")
    record = bench.record("blow")
    later = Bench(start_s=START_S + 86_400.0)
    later.board.restore(
        Remembered(alerts=(record,), last_alive_s=bench.now_s), later.now_s, gap_s=100.0
    )
    later.gather()
    later.wait(499.9)
    assert later.state("blow") is State.SHELVED
    later.wait(0.2)
    assert later.state("blow") is State.UNACKNOWLEDGED


def test_a_shelf_that_ended_in_the_dark_is_announced_and_an_unknown_gap_ends_it() -> None:
    """Better one sound too many."""
    bench = Bench()
    bench.say("blow", holds())
    bench.run(6)
    bench.command("shelve", "blow", for_s=60.0, why="known")
    assert bench.restarted(gap_s=61.0).state("blow") is State.UNACKNOWLEDGED
    assert bench.restarted(gap_s=30.0).state("blow") is State.SHELVED
    assert bench.restarted(gap_s=None).state("blow") is State.UNACKNOWLEDGED


def test_a_rule_that_is_gone_from_the_orders_takes_its_alert_with_a_line() -> None:
    """Withdrawn, not silently normal."""
    bench = Bench()
    bench.say("drag", holds(at_once=True))
    bench.run(1)
    record = bench.record("drag")
    later = Bench(rules={"ring": RULES["ring"]})
    later.board.restore(Remembered(alerts=(record,)), later.now_s, gap_s=5.0)
    later.gather()
    assert later.path("drag") == [("normal", "restart")]
    assert later.messages("skipper", "cleared")


def test_after_a_restart_an_acknowledged_alert_waits_for_data() -> None:
    """Sensor values are not remembered: it stands, and clears on 30 s of good data and more."""
    bench = Bench()
    bench.say("drag", holds(at_once=True))
    bench.run(1)
    bench.command("ack", "drag")
    later = bench.restarted()
    assert later.record("drag").data_lost
    later.say("drag", gone())
    later.run(140)
    assert later.state("drag") is State.ACKNOWLEDGED
    later.run(15)
    assert later.state("drag") is State.NORMAL


def test_old_occurrences_stay_refused_over_a_restart() -> None:
    """The count of what is over is remembered too."""
    bench = Bench()
    bench.judge("float", holds())
    bench.command("ack", "float")
    bench.judge("float", gone())
    later = bench.restarted()
    later.judge("float", holds())
    assert later.record("float").occurrence == 2
    old = later.command("ack", "float", occurrence=1)
    assert old.code == 2 and "occurrence 1, and it is over" in old.text
    never = later.command("ack", "float", occurrence=7)
    assert never.code == 2 and "no such occurrence" in never.text and "over" not in never.text


def test_out_of_service_and_the_watch_note_outlive_a_restart() -> None:
    """Kept by the board itself, under one key."""
    bench = Bench()
    bench.command("out-of-service", "blow", why="mast down")
    bench.command("take", who="Ann", for_s=3600.0)
    later = bench.restarted(gap_s=10.0)
    assert later.board.out_of_service() == {"blow": "mast down"}
    assert later.board.has_watch()[0] == "Ann"
    assert later.state("blow") is State.OUT_OF_SERVICE
    later.wait(3590)
    assert later.board.has_watch() == ("", None)


@pytest.mark.parametrize("raw", [b"", b"not json", b'{"duty": 7}', b"[]"])
def test_damaged_state_of_the_board_is_left_aside(raw: bytes) -> None:
    """The alerts themselves have their own rows."""
    bench = Bench()
    bench.board.restore(Remembered(state={"board": raw}), bench.now_s, gap_s=1.0)
    assert bench.board.has_watch() == ("", None)


# -- commands --------------------------------------------------------------------------------------


def test_a_button_answers_the_one_alert_that_calls_and_none_of_several() -> None:
    """No name given: the one that speaks, or a refusal with the names."""
    bench = Bench()
    assert bench.command("ack", through="button").code == 2
    bench.judge("hatch", holds())
    assert bench.command("ack", through="button").code == 0
    bench.judge("ring", holds(ship(1)))
    bench.say("blow", holds())
    bench.run(6)
    reply = bench.command("ack", through="button")
    assert reply.code == 2
    assert "one by one" in reply.text


def test_what_is_over_is_refused_with_its_name() -> None:
    """A late answer to an alert of the past says so."""
    bench = Bench()
    bench.judge("float", holds())
    bench.command("ack", "float")
    bench.judge("float", gone())
    reply = bench.command("ack", "float")
    assert reply.code == 2
    assert "it is over" in reply.text


def test_an_answer_while_it_comes_true_again_does_not_lose_the_second_raise() -> None:
    """Found by a long walk: the on-delay that runs goes on under the acknowledgement."""
    bench = Bench()
    bench.say("drag", holds(at_once=True))
    bench.run(1)
    bench.say("drag", gone())
    bench.run(121)
    bench.say("drag", holds())
    bench.run(5)
    assert bench.command("ack", "drag").code == 0
    bench.run(16)
    assert bench.state("drag") is State.UNACKNOWLEDGED
    assert bench.record("drag").occurrence == 2


def test_a_shelf_is_broken_by_the_second_limit() -> None:
    """Whoever shelved it had not seen this."""
    bench = Bench()
    bench.say("blow", holds())
    bench.run(6)
    bench.command("shelve", "blow", for_s=3600.0, why="known")
    bench.judge("blow", holds(worse=True))
    assert bench.path("blow")[-1] == ("active-unacknowledged", "worse")


def test_a_rule_of_own_ship_can_be_shelved_before_it_raises_and_one_of_ships_cannot() -> None:
    """A ship is shelved by her own alert."""
    bench = Bench()
    assert bench.command("shelve", "blow", for_s=600.0, why="squalls").code == 0
    bench.say("blow", holds())
    bench.run(6)
    assert bench.state("blow") is State.SHELVED
    assert bench.command("shelve", "ring", for_s=600.0, why="regatta").code == 2


def test_an_escalated_warning_is_a_warning_again_once_somebody_has_it() -> None:
    """It rose only because nobody answered."""
    bench = Bench()
    bench.judge("ring", holds(ship(1)))
    bench.wait(61)
    bench.command("ack", "ring:299000001")
    assert bench.record("ring:299000001").priority is Priority.WARNING


def test_a_target_that_is_never_heard_again_can_be_let_go_once_it_is_acknowledged() -> None:
    """Lost data never clears it; a person may."""
    bench = Bench()
    bench.judge("ring", holds(ship(1)))
    bench.say("ring")
    bench.run(10)
    assert bench.command("reset", "ring:299000001").code == 2
    bench.command("ack", "ring:299000001")
    assert bench.command("reset", "ring:299000001").code == 0
    assert bench.state("ring:299000001") is State.NORMAL


def test_the_handover_refuses_what_makes_no_sense() -> None:
    """A name, a time to come, an outlet of a person."""
    bench = Bench()
    assert bench.command("handover").code == 2
    assert bench.command("handover", to="Bob", until_s=START_S - 1).code == 2
    assert bench.command("handover", to="Bob", for_s=25 * 3600.0).code == 2
    assert bench.command("handover", to="Bob", next="buzzer").code == 2
    assert bench.command("handover", to="Bob", next="mate").code == 0
    assert bench.board.has_watch() == ("Bob", None)


def test_every_subject_of_a_feed_has_its_own_alert_and_fault_pattern() -> None:
    """A warning of the feed sounds as a fault, an alarm of it as an alarm."""
    bench = Bench(outlets=OUTLETS)
    gnss = Subject("input:gnss", "input", "gnss")
    bench.judge("feed", holds(gnss, priority="warning"))
    assert bench.sound.pattern == "fault"
    bench.judge("feed", holds(gnss, priority="alarm"))
    assert bench.path("feed:gnss")[-1] == ("active-unacknowledged", "worse")
    assert bench.sound.pattern == "alarm"
