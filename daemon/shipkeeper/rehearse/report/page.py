"""The page: one HTML file, nothing from outside, for paper, phone and screen, light and dark."""

from __future__ import annotations

from importlib.resources import files

from ...words.timing import utc_text
from . import tables
from .graphs import graphs
from .night import Night
from .svg import both, esc
from .timeline import LEGEND, timeline
from .track import track
from .traffic import traffic
from .words import headline, paragraph


def page(night: Night, version: str) -> str:
    """The whole file."""
    style = (files(__package__) / "page.css").read_text("utf-8")
    vessel = esc(night.orders.vessel.name)
    span = f"{utc_text(night.first_s)[:16].replace('T', ' ')} to {_end(night)} UTC"
    cls = "bad" if night.drags else "told" if night.figures["wake_ups"] else "quiet"
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{vessel}, night of {utc_text(night.first_s)[:10]}</title>
<link rel="icon" href="data:,">
<style>{style}</style>
</head>
<body>
<svg class="defs" width="0" height="0" aria-hidden="true"><defs>
<pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse"
patternTransform="rotate(45)">
<rect width="6" height="6" class="hatchground"/><rect width="2.4" height="6" class="hatchline"/>
</pattern></defs></svg>
<header class="{cls}">
<p class="who">{vessel} <span>{span}</span></p>
<h1>{esc(headline(night))}</h1>
<p class="lead">{esc(paragraph(night))}</p>
</header>
<main>
<section><h2>What was raised</h2>
{both(timeline(night, 340.0), timeline(night, 1040.0))}
{LEGEND if night.stretches else ""}
{tables.alerts(night)}
</section>
<div class="two">
<section><h2>Where she lay</h2>{track(night)}</section>
<section><h2>Who came near</h2>{traffic(night)}</section>
</div>
<section><h2>Through the night</h2><div class="graphs">{graphs(night)}</div></section>
<div class="two">
<section><h2>What nobody acknowledged</h2>{tables.unanswered(night)}</section>
<section><h2>Health of the feed</h2>{tables.feed(night)}</section>
</div>
<section><h2>Alarm load</h2>{tables.load(night)}</section>
</main>
<footer><p>All times are UTC. Drawn by shipkeeper {esc(version)} from the recording, by running its
orders over it again. An aid, never a look-out (COLREG rule 5): what neither GNSS, AIS nor radar
told is not in here.</p></footer>
</body>
</html>
"""


def _end(night: Night) -> str:
    first, last = utc_text(night.first_s), utc_text(night.last_s)
    return last[11:16] if first[:10] == last[:10] else last[:16].replace("T", " ")
