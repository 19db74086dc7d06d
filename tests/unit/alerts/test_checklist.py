"""The feature checklist for alert handling: one test named after each number.

Numbers, and the published standards behind them, are those of our own specification of alerts;
figures are from IMO MSC.302(87), MSC.128(75) and ISA-18.2 where a test says so (all read as
excerpts or second-hand), else they are our own decision. Rows that belong to other parts (the
sounder's tone, the outbox, the store) are tested there.
"""

from __future__ import annotations

import itertools

import msgspec
import pytest
from tests.unit.alerts.bench import (
    RULES,
    START_S,
    Bench,
    Log,
    Phone,
    cannot_tell,
    gone,
    holds,
    inside_deadband,
    ship,
)

from shipkeeper.alerts.commands import Clerk
from shipkeeper.app.kinds import KINDS
from shipkeeper.words.alert import Priority, State, Subject
from shipkeeper.words.effects import Record, Send, Wanted
from shipkeeper.words.orders import RuleOrders


def raised(bench: Bench, slug: str = "drag", **more: object) -> Bench:
    """The rule's alert is raised now: it went on holding for its on-delay."""
    bench.say(slug, holds(**more))  # type: ignore[arg-type]  # verdict fields by name
    bench.run(RULES[slug].confirm_s + 1)
    return bench


def test_01_four_priorities_base_and_current_are_in_every_output() -> None:
    """MSC.302(87): four named priorities; a raised warning tells what it was and what it is."""
    bench = Bench()
    bench.judge("ring", holds(ship(1)))
    bench.wait(60)
    record = bench.record("ring:299000001")
    assert (record.base_priority, record.priority) == (Priority.WARNING, Priority.ALARM)
    assert [p.label for p in Priority] == ["caution", "warning", "alarm", "emergency alarm"]
    assert bench.lines("ring:299000001")[-1].priority == "alarm"
    assert bench.shown is not None
    assert bench.shown.alerts[0].base_priority is Priority.WARNING


@pytest.mark.parametrize("through", ["push", "button", "mqtt", "nmea"])
def test_02_a_blind_channel_only_silences_category_a(through: str) -> None:
    """A drag takes a picture to judge: a tap without one stops the sound for 30 s only."""
    bench = raised(Bench())
    reply = bench.command("ack", "drag", through=through)
    assert reply.code == 1
    assert bench.state("drag") is State.SILENCED
    bench.wait(30)
    assert bench.state("drag") is State.UNACKNOWLEDGED


def test_02_a_blind_channel_acknowledges_category_b() -> None:
    """Wind is all in the words: one tap will do."""
    bench = raised(Bench(), "blow")
    assert bench.command("ack", "blow", through="push").code == 0
    assert bench.state("blow") is State.ACKNOWLEDGED


def test_04_the_sound_is_the_first_thing_done_at_the_raise() -> None:
    """Local sound waits for nothing: it comes before the rows and the messages."""
    bench = raised(Bench())
    kinds = [type(e) for e in bench.effects]
    line = kinds.index(Record)
    sound = next(i for i, e in enumerate(bench.effects) if isinstance(e, Wanted) and e.fresh == 1)
    message = kinds.index(Send)
    assert sound < line < message
    assert bench.sound.pattern == "alarm"


def test_05_the_sound_is_wanted_for_as_long_as_nobody_answers() -> None:
    """The sounder repeats its group each 8 s while this is so (pattern tested with the outlet)."""
    bench = raised(Bench())
    for _ in range(100):
        bench.tick()
        assert bench.sound.pattern.startswith("alarm")


def test_06_silence_lasts_30_s_and_then_it_sounds() -> None:
    """MSC.302(87) 7.3.5: at most 30 s."""
    bench = raised(Bench())
    at_s = bench.now_s
    bench.command("silence", "drag")
    assert bench.sound.pattern == "silence"
    bench.wait(29.9)
    assert bench.state("drag") is State.SILENCED
    bench.wait(0.1)
    assert bench.state("drag") is State.UNACKNOWLEDGED
    assert bench.sound.pattern.startswith("alarm")
    assert bench.when("drag", "active-silenced") == round(at_s - START_S, 3)


def test_07_one_command_silences_everything_and_acknowledges_nothing() -> None:
    """MSC.302(87) 9.10."""
    bench = raised(raised(Bench()), "blow")
    bench.judge("ring", holds(ship(1)))
    reply = bench.command("silence")
    assert set(reply.data["silenced"]) == {"drag", "blow", "ring:299000001"}
    assert bench.sound.pattern == "silence"
    assert {bench.state(i) for i in reply.data["silenced"]} == {State.SILENCED}


def test_08_there_is_no_way_to_acknowledge_all() -> None:
    """MSC.302(87) 9.9: one at a time; nothing in the clerk takes 'all' or an empty name."""
    bench = raised(raised(Bench()), "blow")
    for word in ("all", "*", "", "everything"):
        reply = bench.command("ack", word)
        assert reply.code == 2, word
    assert bench.state("drag") is State.UNACKNOWLEDGED
    assert not [name for name in dir(Clerk) if "all" in name.lower().split("_")]


def test_09_an_answer_to_an_old_occurrence_is_refused() -> None:
    """It was over and came again since: look again."""
    bench = raised(Bench())
    bench.command("ack", "drag")
    bench.say("drag", gone())
    bench.run(122)
    raised(bench)
    assert bench.record("drag").occurrence == 2
    reply = bench.command("ack", "drag", occurrence=1)
    assert reply.code == 2
    assert "occurrence 1" in reply.text
    assert bench.command("ack", "drag", occurrence=2).code == 0


def test_09_an_answer_across_an_escalation_is_accepted() -> None:
    """The tap of the sleeper who reached for the phone while it escalated is good."""
    bench = Bench()
    bench.judge("ring", holds(ship(1)))
    seen = bench.messages("skipper")[-1].revision
    bench.wait(75)
    assert bench.command("ack", "ring:299000001", occurrence=1, seen=seen).code == 0


def test_09_an_answer_to_what_has_got_worse_since_is_refused() -> None:
    """The second limit was crossed after the message that the person saw."""
    bench = raised(Bench())
    seen, seen_s = bench.messages("skipper")[-1].revision, bench.now_s
    bench.run(5)
    bench.judge("drag", holds(worse=True))
    assert bench.command("ack", "drag", seen=seen).code == 2
    assert bench.command("ack", "drag", seen_at_s=seen_s).code == 2
    assert bench.command("ack", "drag", seen=bench.messages("skipper")[-1].revision).code == 0


def test_10_who_where_through_what_and_when() -> None:
    """Kept with the alert; the engine journals the command itself."""
    bench = raised(Bench())
    bench.command("ack", "drag", who="Ann", where="aboard", through="command line")
    record = bench.record("drag")
    assert record.acknowledged_by == "Ann"
    assert record.acknowledged_where == "aboard"
    assert record.acknowledged_through == "command line"
    assert record.acknowledged_s == bench.now_s


def test_11_an_unanswered_warning_is_an_alarm_after_a_minute() -> None:
    """MSC.302(87) 6.2.2; 60 s is ours, 300 s the most that can be set."""
    bench = Bench()
    bench.judge("ring", holds(ship(1)))
    bench.wait(59.9)
    assert bench.record("ring:299000001").priority is Priority.WARNING
    bench.wait(0.1)
    assert bench.record("ring:299000001").priority is Priority.ALARM
    assert bench.path("ring:299000001")[-1] == ("active-unacknowledged", "escalation")


def test_12_people_are_called_at_0_15_30_and_120_s_then_each_3_min() -> None:
    """The cadence of MSC.128(75) 4.1.2 (15, 15, 90 s); the call list adds the mate at 30 s."""
    bench = Bench()
    bench.say("drag", holds(at_once=True))
    bench.run(1)
    begun_s = bench.now_s
    bench.wait(700)
    calls = {
        outlet: [round(m.at_s - begun_s, 3) for m in bench.messages(outlet)]
        for outlet in ("skipper", "mate")
    }
    assert calls["skipper"] == [0, 15, 30, 120, 300, 480, 660]
    assert calls["mate"] == [30, 120, 300, 480, 660]
    assert bench.record("drag").level == 6


def test_13_nobody_answers_for_eight_hours_and_the_calls_go_on() -> None:
    """Never stops by itself while it is so: 162 calls in 8 h, one each 3 min at the end."""
    bench = Bench()
    bench.say("drag", holds(at_once=True))
    bench.run(1)
    bench.wait(8 * 3600.0)
    times = [m.at_s for m in bench.messages("skipper")]
    assert max(b - a for a, b in itertools.pairwise(times)) <= 180.0
    assert bench.now_s - times[-1] <= 180.0
    assert bench.sound.pattern == "alarm stage 2"


def test_15_an_answer_from_ashore_leaves_the_sounder_on() -> None:
    """A tap ashore is no proof that anyone is on deck: it takes it over and stops the calls."""
    bench = raised(Bench())
    told = len(bench.messages("mate"))
    reply = bench.command("ack", "drag", where="ashore")
    assert reply.code == 1
    assert bench.state("drag") is State.TRANSFERRED
    assert bench.sound.pattern.startswith("alarm")
    bench.wait(600)
    assert len(bench.messages("mate")) == told
    assert bench.command("ack", "drag", where="aboard").code == 0
    assert bench.sound.pattern == "silence"


def test_15_with_nobody_aboard_an_answer_from_ashore_is_the_answer() -> None:
    """Crew ashore: the boat is unoccupied."""
    bench = raised(Bench(crew="ashore"))
    assert bench.command("ack", "drag", where="ashore").code == 0
    assert bench.state("drag") is State.ACKNOWLEDGED
    assert bench.sound.pattern == "silence"


def test_16_what_nobody_saw_is_kept_until_somebody_does() -> None:
    """Rectified-unacknowledged goes on acknowledgement alone."""
    bench = raised(Bench())
    bench.say("drag", gone())
    bench.run(3600)
    assert bench.state("drag") is State.RECTIFIED
    assert bench.command("ack", "drag").code == 0
    assert bench.path("drag")[-1] == ("normal", "acknowledge")


def test_17_a_latched_alert_needs_a_reset() -> None:
    """It stands after it is over, and after it is acknowledged."""
    bench = Bench()
    bench.judge("hatch", holds())
    bench.judge("hatch", gone())
    assert bench.state("hatch") is State.LATCHED
    assert bench.command("reset", "hatch").code == 2
    bench.command("ack", "hatch")
    assert bench.state("hatch") is State.LATCHED_ACKNOWLEDGED
    assert bench.command("reset", "hatch").code == 0
    assert bench.state("hatch") is State.NORMAL


def test_18_the_sound_stops_when_it_is_over_and_the_record_stays() -> None:
    """MSC.302(87) 7.3.8: within the same moment; the lamp goes on flashing."""
    bench = raised(Bench())
    bench.say("drag", gone())
    bench.run(121)
    assert bench.sound.pattern == "silence"
    assert bench.sound.lamp == "flash"
    assert bench.state("drag") is State.RECTIFIED


def test_19_a_new_alert_sounds_over_those_that_are_known() -> None:
    """Accepting one alarm never hides another (IMO offshore-unit code 8.7.4)."""
    bench = raised(Bench())
    bench.command("ack", "drag")
    fresh = bench.sound.fresh
    bench.judge("ring", holds(ship(1)))
    assert bench.sound.pattern == "warning"
    assert bench.sound.fresh == fresh + 1


def test_20_the_second_limit_is_told_anew_after_an_acknowledgement() -> None:
    """Worse is news: it sounds and pages although it was acknowledged."""
    bench = raised(Bench())
    bench.command("ack", "drag")
    told = len(bench.messages("skipper"))
    bench.judge("drag", holds(worse=True))
    assert bench.path("drag")[-1] == ("active-unacknowledged", "worse")
    assert bench.sound.pattern == "alarm"
    assert len(bench.messages("skipper")) == told + 1
    bench.command("ack", "drag")
    bench.run(10)
    assert bench.state("drag") is State.ACKNOWLEDGED, "told once for each occurrence"


def test_20_the_second_limit_makes_a_warning_an_alarm() -> None:
    """The priority goes up by one, and the base stays."""
    bench = raised(Bench(), "blow")
    bench.judge("blow", holds(worse=True))
    record = bench.record("blow")
    assert (record.base_priority, record.priority) == (Priority.WARNING, Priority.ALARM)


def test_21_an_acknowledged_alarm_that_is_still_so_is_told_again() -> None:
    """After half an hour (ours); the text says so."""
    bench = raised(Bench())
    bench.command("ack", "drag")
    bench.wait(1799.9)
    assert bench.state("drag") is State.ACKNOWLEDGED
    bench.wait(0.1)
    assert bench.state("drag") is State.UNACKNOWLEDGED
    assert bench.messages("skipper")[-1].text.startswith("STILL SO.")


@pytest.mark.parametrize(("confirm_s", "clear_s"), [(0.3, 0.7), (7.3, 61.9), (20.0, 120.0)])
def test_22_delays_are_exact(confirm_s: float, clear_s: float) -> None:
    """To 0.1 s on the simulated clock, whatever the grid."""
    orders = msgspec.structs.replace(RULES["drag"], confirm_s=confirm_s, clear_s=clear_s)
    bench = Bench(rules={"drag": orders})
    bench.run(5)
    bench.judge("drag", holds())
    bench.wait(confirm_s + 0.4)
    assert bench.when("drag", "active-unacknowledged") == pytest.approx(5 + confirm_s, abs=0.001)
    cleared_from = bench.elapsed_s
    bench.judge("drag", gone())
    bench.wait(clear_s + 1)
    over = bench.when("drag", "rectified-unacknowledged")
    assert over == pytest.approx(cleared_from + clear_s, abs=0.001)


def test_23_dithering_at_the_limit_raises_once_in_ten_minutes() -> None:
    """Between `holds` and `gone` the alert keeps the side it is on."""
    orders = msgspec.structs.replace(RULES["drag"], confirm_s=0.0, clear_s=0.0)
    bench = Bench(rules={"drag": orders})
    for second in range(600):
        bench.say("drag", holds() if second % 2 else inside_deadband())
        bench.tick()
    assert [to for to, _ in bench.path("drag")] == ["active-unacknowledged"]


def test_24_three_raises_in_a_minute_are_one_alert_with_a_count() -> None:
    """ISA-18.2 practice: folded and counted, a caution says so, and no alarm is lost."""
    bench = Bench()
    for second in range(120):
        bench.say("float", holds() if second % 10 < 5 else gone())
        bench.tick()
    raises = [t for t in bench.lines("float") if t.to == "active-unacknowledged"]
    assert len(raises) == 3
    assert bench.state("float") is State.UNACKNOWLEDGED
    assert bench.record("float").folded == 9
    assert bench.state("self:chatter-float") is State.ACTIVE
    bench.say("float", gone())
    bench.run(601)
    assert bench.state("float") is State.RECTIFIED
    assert bench.state("self:chatter-float") is State.NORMAL


def test_24_five_raises_in_ten_minutes_are_chatter_too() -> None:
    """The slower measure."""
    bench = Bench()
    for second in range(600):
        bench.say("float", holds() if second % 100 < 5 else gone())
        bench.tick()
    raises = [t for t in bench.lines("float") if t.to == "active-unacknowledged"]
    assert len(raises) == 5
    assert bench.record("float").folded == 1


def test_27_a_shelf_needs_a_reason_and_ends_at_the_second() -> None:
    """Back by itself, announced afresh with its first times kept."""
    bench = raised(Bench(), "blow")
    raised_s = bench.record("blow").raised_s
    assert bench.command("shelve", "blow", for_s=1800.0).code == 2
    assert bench.command("shelve", "blow", for_s=1800.0, why="squall known").code == 0
    assert bench.state("blow") is State.SHELVED
    assert bench.sound.pattern == "silence"
    bench.wait(1799.9)
    assert bench.state("blow") is State.SHELVED
    bench.wait(0.1)
    assert bench.path("blow")[-1] == ("active-unacknowledged", "shelf-over")
    assert bench.record("blow").raised_s == raised_s
    assert bench.sound.pattern == "warning"


def test_27_a_shelf_has_a_cap() -> None:
    """12 h; 1 h for an alarm (ours)."""
    bench = raised(raised(Bench()), "blow")
    assert bench.command("shelve", "blow", for_s=12 * 3600.0 + 1, why="x").code == 2
    assert bench.command("shelve", "blow", for_s=12 * 3600.0, why="x").code == 0
    assert bench.command("shelve", "drag", for_s=3601.0, why="x").code == 2
    assert bench.command("shelve", "drag", for_s=3600.0, why="x").code == 0


def test_27_a_one_shot_shelf_ends_with_the_first_return_to_normal() -> None:
    """The next raise sounds."""
    bench = raised(Bench(), "blow")
    bench.command("ack", "blow")
    bench.command("shelve", "blow", for_s=7200.0, why="this squall", once=True)
    bench.say("blow", gone())
    bench.run(301)
    assert bench.state("blow") is State.NORMAL
    raised(bench, "blow")
    assert bench.state("blow") is State.UNACKNOWLEDGED


def test_28_a_rule_that_does_not_stand_in_the_watch_is_withdrawn_with_a_line() -> None:
    """Both ways by itself, and logged; whoever was told of it is told."""
    bench = raised(Bench())
    bench.set_watch("underway")
    assert bench.path("drag")[-1] == ("normal", "watch")
    assert bench.messages("skipper")[-1].event == "cleared"
    assert "WATCHED NO MORE" in bench.messages("skipper")[-1].text


def test_29_out_of_service_is_listed_and_reminded_of_once_a_day() -> None:
    """One reminder in 24 h; judged and kept all the same."""
    bench = Bench()
    assert bench.command("out-of-service", "blow", why="anemometer down").code == 0
    raised(bench, "blow")
    assert bench.state("blow") is State.OUT_OF_SERVICE
    assert bench.sound.pattern == "silence"
    assert bench.board.out_of_service() == {"blow": "anemometer down"}
    bench.wait(2 * 86_400.0 + 10)
    reminders = [t for t in bench.lines("self:out-of-service") if t.to == "active"]
    assert len(reminders) == 2
    assert bench.command("in-service", "blow").code == 0
    assert bench.state("blow") is State.UNACKNOWLEDGED


@pytest.mark.parametrize("verb", ["shelve", "out-of-service"])
def test_30_feed_health_cannot_be_put_aside(verb: str) -> None:
    """Nothing may shelve the watch's own eyes."""
    bench = Bench()
    bench.judge("feed", holds(Subject("input:gnss", "input", "gnss")))
    ident = "feed:gnss" if verb == "shelve" else "feed"
    assert bench.command(verb, ident, why="it is noisy", for_s=60.0).code == 2
    assert bench.state("feed:gnss") is State.UNACKNOWLEDGED


def test_32_a_dead_input_is_one_alert() -> None:
    """The rules it blinds are unknown and named in it; lost targets are explained by it."""
    bench = Bench()
    bench.run(11)
    for slug in ("drag", "close"):
        bench.say(slug, missing=("position",))
    bench.tick()
    facts = {"input": "gnss", "fault": "silent", "affected": ["drag", "close", "ring"]}
    bench.say("feed", holds(Subject("input:gnss", "input", "gnss"), facts=facts))
    bench.tick()
    told = len(bench.messages("skipper"))
    fresh = bench.sound.fresh
    bench.judge("ring", *(holds(ship(n), facts={"event": "lost"}) for n in range(3)))
    assert len(bench.messages("skipper")) == told == 1
    assert bench.sound.fresh == fresh == 1
    assert {bench.record(f"ring:29900000{n}").group for n in range(3)} == {"feed:gnss"}
    assert bench.board.unknown_rules() == {"drag": ("position",), "close": ("position",)}


def test_33_twenty_targets_are_one_sound_one_push_and_a_list_of_twenty() -> None:
    """MSC.252(83) 22.2: the count is carried; each has its own lines all the same."""
    bench = Bench()
    bench.judge("ring", *(holds(ship(n)) for n in range(20)))
    assert bench.sound.fresh == 1
    pushes = bench.messages("skipper")
    assert len(pushes) == 1
    assert "20 together" in pushes[0].text
    assert all(f"SHIP {n}" in pushes[0].text for n in range(20))
    assert len([t for t in bench.lines() if t.to == "active-unacknowledged"]) == 20


def test_34_one_push_for_one_change_and_ids_never_repeat() -> None:
    """Nothing is told twice; the id folds what the outbox sends twice."""
    bench = raised(Bench())
    bench.run(10)
    assert len(bench.messages("skipper", "raised")) == 1
    bench.wait(600)
    ids = [m.id for m in bench.messages()]
    assert len(ids) == len(set(ids))


def test_37_every_text_explains() -> None:
    """Value, since when, age of data, which order, and what to do (MSC.302(87) 9.7)."""
    orders = msgspec.structs.replace(RULES["drag"], response="go on deck")
    bench = Bench(rules={"drag": orders})
    facts = {"mode": "radius", "excess_m": 7.1, "distance_m": 52.1, "bearing_deg": 45.0}
    bench.say("drag", holds(facts=facts, value=52.1, limit=45.0, data_at_s=bench.now_s))
    bench.run(21)
    text = bench.messages("skipper")[0].text
    for part in ("7.1 m", "52 m", "045", "Since", "Data", 'Order "drag"', "Do: go on deck"):
        assert part in text, text


@pytest.mark.parametrize("kind", KINDS.rules, ids=lambda kind: kind.table)
def test_37_every_kind_of_order_says_what_to_do_without_being_told(
    kind: type[RuleOrders],
) -> None:
    """And what is at stake: no alarm without an answer to it (ISA-18.2, second-hand)."""
    defaults = {f.name: f.default for f in msgspec.structs.fields(kind)}
    assert defaults["response"] and defaults["consequence"]


def test_42_an_acknowledgement_survives_a_restart_and_a_silence_does_not() -> None:
    """The matrix of the specification: what each state is after a restart."""
    bench = raised(raised(Bench()), "blow")
    bench.judge("ring", holds(ship(1)))
    bench.command("ack", "drag")
    bench.command("silence", "blow")
    later = bench.restarted()
    assert later.state("drag") is State.ACKNOWLEDGED
    assert later.state("blow") is State.UNACKNOWLEDGED
    assert later.state("ring:299000001") is State.UNACKNOWLEDGED
    assert later.sound.pattern != "silence", "sounds before any data"
    assert "Restored after restart" in later.messages("skipper")[0].text


@pytest.mark.parametrize(("gap_s", "told"), [(59.0, False), (61.0, True), (1260.0, True)])
def test_43_a_gap_in_the_watch_is_an_alarm_with_its_times(gap_s: float, told: bool) -> None:
    """With a watch set and nobody watching for over a minute; it stands until it is read."""
    bench = raised(Bench())
    bench.command("ack", "drag")
    later = bench.restarted(gap_s=gap_s)
    found = later.board.find("self:gap")
    assert (not isinstance(found, str)) is told
    if told:
        assert later.record("self:gap").priority is Priority.ALARM
        assert "Not watched from" in later.record("self:gap").text
        assert later.command("ack", "self:gap").code == 0
        assert later.path("self:gap")[-1] == ("normal", "acknowledge")


def test_44_unknown_is_not_normal() -> None:
    """A rule without its input says so; it is normal again with the first good verdict."""
    bench = Bench()
    bench.say("drag", gone())
    bench.run(20)
    bench.say("drag", missing=("position",))
    bench.tick()
    assert bench.path("drag") == [("unknown", "data-lost")]
    assert bench.sound.lamp == "slow"
    bench.say("drag", gone())
    bench.tick()
    assert bench.path("drag")[-1] == ("normal", "condition")


def test_45_an_active_alert_is_held_through_lost_data() -> None:
    """Never cleared by silence: not by a missing input, a None, nor by being left out."""
    for lose in ("missing", "none", "left out"):
        bench = raised(Bench())
        if lose == "missing":
            bench.say("drag", missing=("position",))
        elif lose == "none":
            bench.say("drag", cannot_tell())
        else:
            bench.say("drag")
        bench.run(3600)
        record = bench.record("drag")
        assert record.state is State.UNACKNOWLEDGED, lose
        assert record.data_lost
        assert "Data is lost" in record.text


def test_45_after_a_loss_it_clears_only_on_good_data() -> None:
    """30 s of good data, and then the off-delay."""
    bench = raised(Bench())
    bench.say("drag", missing=("position",))
    bench.run(100)
    bench.say("drag", gone())
    begun = bench.elapsed_s + 1
    bench.run(200)
    over = bench.when("drag", "rectified-unacknowledged")
    assert over == pytest.approx(begun + 30 + 120, abs=1.0)


def test_93_a_change_of_watch_ends_shelves_and_disarms_nothing_silently() -> None:
    """A shelf never outlives the setting of a watch."""
    bench = raised(Bench(), "blow")
    bench.command("shelve", "blow", for_s=7200.0, why="known")
    bench.set_watch("underway")
    assert bench.path("blow")[-1] == ("active-unacknowledged", "watch")


def test_100_every_refusal_has_a_reason() -> None:
    """The engine journals each command with this text."""
    bench = Bench()
    for verb in (
        "ack",
        "silence",
        "unshelve",
        "reset",
        "transfer",
        "hand-back",
        "in-service",
        "no",
    ):
        reply = bench.command(verb, "drag", to="Bob")
        assert reply.code == 2, verb
        assert len(reply.text) > 10


def test_14_a_taken_alert_comes_back_when_the_taker_is_not_heard() -> None:
    """Two heartbeats (60 s each, ours) missed."""
    bench = raised(Bench())
    assert bench.command("take", "drag", who="Bob").code == 0
    assert bench.sound.pattern == "silence"
    bench.wait(100)
    bench.command("heartbeat", who="Bob")
    bench.wait(119.9)
    assert bench.state("drag") is State.TRANSFERRED
    bench.wait(0.1)
    assert bench.state("drag") is State.UNACKNOWLEDGED
    assert "Bob is not heard" in bench.messages("skipper")[-1].text


def test_106_titles_are_at_most_sixteen_characters() -> None:
    """IEC 62923-2, from memory."""
    orders: dict[str, RuleOrders] = dict(RULES)
    orders["battery"] = msgspec.structs.replace(
        RULES["battery"], name="a battery with a very long name", priority="warning"
    )
    bench = Bench(rules=orders, outlets=(Phone(name="skipper"), Log(name="log")))
    bench.judge("ring", *(holds(ship(n)) for n in range(120)))
    bench.judge("battery", holds())
    bench.run(5)
    assert bench.messages()
    assert all(0 < len(m.title) <= 16 for m in bench.messages())


def test_108_the_end_of_a_watch_pages_the_next() -> None:
    """The handover note says who has the watch until when."""
    bench = Bench()
    assert bench.command("take", who="Ann", for_s=4 * 3600.0, next="mate").code == 0
    assert bench.board.has_watch()[0] == "Ann"
    bench.wait(4 * 3600.0)
    assert [m.outlet for m in bench.messages(kind="note")] == ["mate"]
    assert bench.board.has_watch() == ("", None)
