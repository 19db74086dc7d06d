"""The loader: good orders, and every problem of bad ones in one reading."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.unit.orders.samples import GOOD, KINDS, DragOrders, FeedOrders, Ring, ZoneOrders

from shipkeeper.alerts.desk import OWN_KIND
from shipkeeper.orders import BadOrders, Problem, load, read, read_file
from shipkeeper.orders.cross import RESERVED

PATH = "orders.toml"


def problems(text: str) -> list[Problem]:
    orders, found, _ = read(text, PATH, KINDS)
    assert (orders is None) == bool(found)
    return found


def only(text: str) -> str:
    """The one problem of a text, as it is told."""
    found = problems(text)
    assert len(found) == 1, [problem.told(PATH) for problem in found]
    return found[0].told(PATH)


def line_of(text: str, part: str) -> int:
    return text[: text.index(part)].count("\n") + 1


def test_good_orders_come_out_typed_and_complete() -> None:
    """SI inside, defaults filled in, implied rules there, no problem and no warning."""
    orders, found, remarks = read(GOOD, PATH, KINDS)
    assert found == [] and [r for r in remarks if r.weight == "warning"] == []
    assert orders is not None
    zone, reef, drag, feed = orders.rules
    assert isinstance(zone, ZoneOrders) and zone.ring == Ring(from_m=0.0, to_m=463.0)
    assert isinstance(reef, ZoneOrders) and reef.polygon is not None and len(reef.polygon) == 3
    assert isinstance(drag, DragOrders) and drag.radius_m == 45.0
    assert isinstance(feed, FeedOrders)
    assert orders.vessel.antenna is not None and orders.vessel.antenna.from_bow_m == 8.9
    assert [table.name for table in orders.outlets] == ["buzzer", "skipper"]
    assert orders.call_list[0].after_s == 30.0
    assert orders.text == GOOD and orders.path == PATH


def test_a_rehearsal_needs_neither_inputs_nor_outlets() -> None:
    """A boat and one rule are orders; the feed rule stands without being written."""
    text = '[vessel]\nname = "a"\nlength = "9 m"\nbeam = "3 m"\n[drag]\nradius = "45 m"\n'
    orders, found, _ = read(text, PATH, KINDS)
    assert found == [] and orders is not None
    assert [rule.table for rule in orders.rules] == ["drag", "feed"]


TEN = """\
[vessel]
name = "Curlew"
lenght = "11.4 m"
beam = 3.6

[[zone]]
name = "inner guard zone"
ring = { from = "0 m", to = "0.25 kn" }
confirm = 5
watches = ["anchored", "mored"]
call = ["buzer"]

[[zone]]
name = "reef"
priority = "urgent"

[drag]
radius = nan

[[zoone]]
name = "x"

[[outlet]]
name = "buzzer"
terminal = {}
"""


def test_ten_mistakes_are_ten_lines_in_one_run() -> None:
    """Each with file:line, the table by name, the key, what was expected, what was found."""
    told = [problem.told(PATH) for problem in problems(TEN)]
    expected = [
        ("orders.toml:3: [vessel]: lenght:", 'Did you mean "length"?'),
        ("orders.toml:4: [vessel]: beam:", "expected a length with its unit"),
        ('orders.toml:8: zone "inner guard zone": ring.to:', "expected a length in m,"),
        ('orders.toml:9: zone "inner guard zone": confirm:', "expected a time with its unit"),
        ('orders.toml:10: zone "inner guard zone": watches[2]:', 'Did you mean "moored"?'),
        ('orders.toml:11: zone "inner guard zone": call[1]:', 'Did you mean "buzzer"?'),
        ('orders.toml:13: zone "reef": ring:', "give one of ring, polygon"),
        ('orders.toml:15: zone "reef": priority:', 'expected "emergency alarm", "alarm"'),
        ("orders.toml:18: [drag]: radius:", "expected a length with its unit"),
        ("orders.toml:20: [zoone]:", "Did you mean [zone]?"),
    ]
    assert len(told) == len(expected) == 10, "\n".join(told)
    for line, (start, part) in zip(told, expected, strict=True):
        assert line.startswith(start) and part in line
        assert "\n" not in line


@pytest.mark.parametrize(
    ("old", "new", "at", "words"),
    [
        ('name = "reef"\n', "", "[[zone]]\npolygon", "name: is missing; expected a text in"),
        ('name = "reef"', 'name = "Inner  Guard-Zone"', None, "zone no. 1 has this one"),
        ('name = "reef"', 'name = "feed"', None, "[feed] has this one"),
        ('name = "reef"', 'name = "???"', None, "expected a name of up to 60 characters"),
        ('name = "reef"', r'name = "a\nb"', None, r'expected a text on one line; found "a\nb"'),
        ("[[call_list]]", '[[outlet]]\nname = "buzzer"\nterminal = {}\n[[call_list]]',
         'name = "buzzer"\nterminal = {}\n[[call_list]]', "outlet no. 1 has this one"),
        ('to = "0.25 NM"', 'to = "0 m"', None, "ring.to: must be more than from"),
        ('to = "0.25 NM"', 'too = "0.25 NM"', None, 'ring.too: unknown key. Did you mean "to"?'),
        ('call = ["skipper"]', 'call = ["skiper"]', None, 'found "skiper"'),
        ('call = ["skipper"]', "call = []", None, "expected at least one outlet; found nobody"),
        ('call = ["buzzer"]', "call = []", None, "leave the key out to call all"),
        ('after = "30 s"', 'after = "301 s"', None, "at most 5 min"),
        ('watches = ["anchored", "moored"]', "watches = []", None, "expected one or more of"),
        ('alarm_after = "1 min"', 'priority = "none"', None, "cannot be switched off"),
        ('alarm_after = "1 min"', 'watches = ["moored"]', None, "stands in every watch"),
        ("[[input]]", "[input]", None, "expected [[input]], double brackets; found [input]"),
        ("[drag]", "[[drag]]", None, "expected [drag], single brackets; found [[drag]]"),
        ("terminal = {}", "", '[[outlet]]\nname = "buzzer"', "expected one of push, terminal"),
        ("terminal = {}", "terminall = {}", None, 'Did you mean "terminal"?'),
        ("terminal = {}", 'terminal = {}\npush = { urls = "/x" }', "push = { urls = \"/x\"",
         "expected only one kind; found terminal and push"),
        ("radius = ", "[drag.x]\nradius = ", None, "x: unknown key"),
        ("[[call_list]]", "[[calling_list]]", None, "unknown table. Did you mean [call_list]?"),
        ("[vessel]", "watch = 5\n[vessel]", "watch", "unknown key outside any table"),
        ('call = ["buzzer"]', 'call = "buzzer"', None, "expected a list"),
    ],
)  # fmt: skip
def test_each_mistake_is_told_at_its_line(old: str, new: str, at: str | None, words: str) -> None:
    """One mistake in good orders is one problem, on the line where it stands."""
    assert GOOD.count(old) == 1
    text = GOOD.replace(old, new)
    told = only(text)
    assert words in told
    assert told.startswith(f"{PATH}:{line_of(text, at or new)}:"), told


def test_two_inputs_may_not_read_one_wire() -> None:
    """A serial port opened twice gives each half of the bytes."""
    again = '[[input]]\nname = "b"\nserial = "/dev/serial/by-id/usb-gnss"\n'
    assert "expected a wire of its own; input no. 1 reads this one" in only(GOOD + again)


def test_there_is_only_one_drag_rule() -> None:
    """Two [[drag]] tables are refused, at the second."""
    assert "expected only one [drag]; found 2" in only(
        GOOD.replace("[drag]", '[[drag]]\nradius = "9 m"\n[[drag]]')
    )


def test_no_vessel_and_nothing_to_watch() -> None:
    """Both are told at the top of the file."""
    told = [problem.told(PATH) for problem in problems("")]
    assert any("[vessel]: is missing; expected name, length and beam" in text for text in told)
    assert any("nothing to watch for" in text for text in told)


def test_a_faulty_outlet_is_still_an_outlet() -> None:
    """A mistake inside an outlet is no second problem at all who call it."""
    assert "from_priority" in only(
        GOOD.replace('from_priority = "warning"', 'from_priority = "loud"')
    )


def test_cross_checks_run_beside_other_mistakes() -> None:
    """A wrong unit in one key does not hide what the keys together have wrong."""
    text = GOOD.replace('confirm = "5 s"', "confirm = 5").replace(
        'ring = { from = "0 m", to = "0.25 NM" }', 'ring = { from = "9 m", to = "1 m" }'
    )
    assert [problem.key for problem in problems(text)] == ["ring.to", "confirm"]


def test_a_faulty_key_makes_no_second_problem_of_what_it_stands_for() -> None:
    """A ring with a slip in it counts as given; nobody is told to give one."""
    assert "ring.to" in only(GOOD.replace('to = "0.25 NM"', 'to = "0.25 nautical miles"'))


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("[vessel]\nlength = 11.4 m\n", 2, 'A quantity stands in quotes: length = "11.4 m"'),
        ('[vessel]\nname = "Curlew\nbeam = "3 m"\n', 2, "expected TOML"),
        ("[vessel]\n\n[vessel]\n", 3, "expected TOML"),
        ("\x1b[2J = 1", 1, r"found \u001b[2J"),
        ("a = " + "[" * 2000, 1, "cannot be read"),
        ("a = " + "9" * 5000, 1, "cannot be read"),
        ("a = [1,\n2", 2, "expected TOML"),
    ],
)
def test_what_is_no_toml_is_one_line(text: str, line: int, words: str) -> None:
    """The line, why, and what stands there."""
    told = only(text)
    assert told.startswith(f"{PATH}:{line}:") and words in told and "\n" not in told


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    """No file, a folder, another encoding, a huge file: one problem each, never a traceback."""
    (tmp_path / "latin.toml").write_bytes(b'[vessel]\nname = "M\xe4we"\n')
    with (tmp_path / "huge.toml").open("wb") as file:
        file.truncate(2_000_000)
    for name, words in (
        ("absent.toml", "cannot be read"),
        (".", "cannot be read"),
        ("latin.toml", "expected UTF-8"),
        ("huge.toml", "less than 1 MB"),
    ):
        orders, found, _ = read_file(tmp_path / name, KINDS)
        assert orders is None and len(found) == 1 and words in found[0].expected
    assert read_file(tmp_path / "latin.toml", KINDS)[1][0].line == 2


def test_a_byte_order_mark_and_windows_line_ends_are_taken(tmp_path: Path) -> None:
    """Files from other computers load, with the same line numbers."""
    path = tmp_path / "orders.toml"
    path.write_bytes(b"\xef\xbb\xbf" + GOOD.replace("\n", "\r\n").encode())
    assert load(path, KINDS).vessel.name == "Curlew"
    path.write_bytes(TEN.replace("\n", "\r\n").encode())
    assert [p.line for p in read_file(path, KINDS)[1]] == [p.line for p in problems(TEN)]


def test_load_raises_with_every_problem(tmp_path: Path) -> None:
    """BadOrders carries all of them, and its text is what a person is shown."""
    path = tmp_path / "orders.toml"
    path.write_text(TEN)
    with pytest.raises(BadOrders) as raised:
        load(path, KINDS)
    assert len(raised.value.problems) == 10
    assert str(raised.value).endswith(f"10 problems in {path}. Nothing was changed.")


@pytest.mark.parametrize("name", ["self", "Self", "SELF!", "7", "2026"])
def test_a_rule_may_not_take_the_watchs_own_name_nor_a_number(name: str) -> None:
    """Alerts go by the name of their rule, and those about the watch itself go by "self"; a
    number means the alert of that number."""
    told = only(GOOD.replace('name = "reef"', f'name = "{name}"'))
    assert "name: expected another name: alerts go by it" in told and f'found "{name}"' in told


def test_the_watchs_own_name_is_the_one_that_is_kept_free() -> None:
    """The loader knows no alerts, so the word stands in two places."""
    assert RESERVED == (OWN_KIND,)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("mmsi = 12345", "mmsi: expected nine digits"),
        ('beam = "36 m"', "beam: is more than the length of the boat"),
    ],
)
def test_a_boat_that_cannot_be(line: str, told: str) -> None:
    """A digit lost, length and beam mixed up."""
    key = line.split()[0]
    vessel = {"name": '"a"', "length": '"9 m"', "beam": '"3 m"', key: line.split(" = ")[1]}
    text = "[vessel]\n" + "".join(f"{k} = {v}\n" for k, v in vessel.items())
    assert told in only(text + '[drag]\nradius = "45 m"\n')
