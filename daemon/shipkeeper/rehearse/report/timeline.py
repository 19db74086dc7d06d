"""The timeline: one bar an alert, its priority as a letter and a colour, its state as a filling."""

from __future__ import annotations

from ...words.timing import duration_text
from .chart import TimeAxis, shade
from .night import Night, Stretch, is_active
from .svg import Canvas

ROW = 34.0
BAR = 15.0
MOST_ROWS = 24
LETTERS = {"emergency alarm": "E", "alarm": "A", "warning": "W", "caution": "C"}
CLASSES = {"emergency alarm": "emergency", "alarm": "alarm", "warning": "warning",
           "caution": "caution"}  # fmt: skip


def timeline(night: Night, width: float) -> str:
    """Rows in the order in which they began."""
    rows = list(night.stretches.items())
    shown = rows[:MOST_ROWS]
    height = 20.0 + ROW * max(1, len(shown)) + 20.0
    canvas = Canvas(width, height, "timeline of the alerts")
    axis = TimeAxis(night.first_s, night.last_s, 4, width - 10)
    bottom = height - 20.0
    axis.draw(canvas, 4, bottom)
    shade(canvas, axis, night.log.breaks, 4, bottom)
    if not rows:
        canvas.text(width / 2, 30, "nothing was raised, and nothing was unknown", "none", "middle")
    for number, (alert, stretches) in enumerate(shown):
        y = 8.0 + ROW * number
        canvas.text(6, y + 10, _name(night, alert, stretches), "row")
        for stretch in stretches:
            _bar(canvas, axis, stretch, y + 14)
    svg = canvas.svg()
    if len(rows) > MOST_ROWS:
        svg += f"<p class='note'>and {len(rows) - MOST_ROWS} more alerts, in the table below</p>"
    return svg


def _name(night: Night, alert: str, stretches: list[Stretch]) -> str:
    subject = next((o.subject for o in night.found if o.alert == alert), "")
    known = f" ({subject})" if subject and subject != "own ship" and ":" in alert else ""
    raised = sum(s.to_s - s.from_s for s in stretches if is_active(s.state))
    long = f", {duration_text(raised)}" if raised else ""
    return f"{alert}{known}{long}"


def _bar(canvas: Canvas, axis: TimeAxis, stretch: Stretch, y: float) -> None:
    x = axis.x(stretch.from_s)
    wide = max(3.0, axis.x(stretch.to_s) - x)
    cls = CLASSES.get(stretch.priority, "alarm")
    if stretch.state == "unknown":
        canvas.rect(x, y, wide, BAR, "unknown")
        return
    if not is_active(stretch.state):
        canvas.rect(x, y + BAR / 2 - 2, wide, 4, f"over {cls}")
        return
    answered = stretch.state in ("active-acknowledged", "active-transferred")
    canvas.rect(x, y, wide, BAR, f"{'answered' if answered else 'open'} {cls}")
    if wide > 12:
        letter = LETTERS.get(stretch.priority, "?")
        canvas.text(x + 4, y + 12, letter, "letter answered" if answered else "letter")


LEGEND = (
    '<p class="note legend"><b>E</b> emergency alarm <b>A</b> alarm <b>W</b> warning '
    '<b>C</b> caution. <span class="key full"></span> nobody has answered '
    '<span class="key pale"></span> acknowledged <span class="key thin"></span> over, but nobody '
    'has seen it <span class="key hatch"></span> could not be judged</p>'
)
