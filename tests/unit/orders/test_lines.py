"""Line numbers: the scanner against files of every shape that TOML allows."""

from __future__ import annotations

import pytest

from shipkeeper.orders.lines import Lines

TEXT = '''\
# comment = 1
top = 1
[vessel]
name = "a # no comment"    # a comment
"quoted key" = 2
antenna.from_bow = "8 m"

[[zone]]
name = "one"
ring = { from = "0 m", to = "1 m" }
[[zone]]   # second
name = """
[not a header]
key = 1
"""
polygon = [
  [57.1, -5.4],  # first, with a comma
  [57.1,
   -5.3],
]
call = ["x]", '[y']
[zone.ignore]
beyond = "2 NM"
[[ zone ]]
name = 'three'
[ 'odd.table' ]
key = 1979-05-27T07:32:00Z
last = """a""\\""""
after = 1.5
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("top",), 2),
        (("vessel",), 3),
        (("vessel", "name"), 4),
        (("vessel", "quoted key"), 5),
        (("vessel", "antenna"), 6),
        (("vessel", "antenna", "from_bow"), 6),
        (("zone", 0), 8),
        (("zone", 0, "ring", "to"), 10),
        (("zone", 1), 11),
        (("zone", 1, "name"), 12),
        (("zone", 1, "polygon"), 16),
        (("zone", 1, "polygon", 0), 17),
        (("zone", 1, "polygon", 1), 18),
        (("zone", 1, "polygon", 1, 1), 19),
        (("zone", 1, "call", 1), 21),
        (("zone", 1, "ignore"), 22),
        (("zone", 1, "ignore", "beyond"), 23),
        (("zone", 2, "name"), 25),
        (("odd.table", "key"), 27),
        (("odd.table", "last"), 28),
        (("odd.table", "after"), 29),
    ],
)
def test_every_path_has_its_line(path: tuple[str | int, ...], line: int) -> None:
    """Headers, keys, quoted and dotted keys, inline tables, items of arrays over lines."""
    assert Lines(TEXT).of(path) == line


def test_what_is_not_there_is_on_the_line_of_what_holds_it() -> None:
    """A missing key is shown at its table, a missing table at the top of the file."""
    lines = Lines(TEXT)
    assert lines.of(("zone", 1, "confirm")) == 11
    assert lines.of(("zone", 0, "ring", "beyond", 3)) == 10
    assert lines.of(("drag",)) == 1
    assert lines.of(()) == 1
