"""The report opened by a real browser, at the width of a phone and of a desk, light and dark.

What must hold (issue 'report', to hold): no error in the console, no sideways scroll, nothing
asked for from outside. The browser is Debian's Chromium.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from demo import night
from PIL import Image
from tests.peers.browser import Browser
from tests.unit.rehearse.scenes import ANCHORED, SCENES, write

from shipkeeper.cli.main import cli


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with Browser() as one:
        yield one


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Path, bytes]]:
    """The three nights as pages and as small pictures."""
    folder = tmp_path_factory.mktemp("nights")
    orders = folder / "orders.toml"
    head, _, rest = (Path(night.__file__).parent / "orders.toml").read_text().partition("[[input]]")
    orders.write_text(head + rest[rest.index("[[zone]]") : rest.index("[[outlet]]")])
    heard = night.night()
    made = {}
    for name, scene in SCENES.items():
        recording = write(folder / f"{name}.nmea", scene(heard))
        page, png = folder / f"{name}.html", folder / f"{name}.png"
        said = CliRunner().invoke(
            cli,
            ["report", str(recording), "--orders", str(orders), *ANCHORED,
             "--html", str(page), "--png", str(png)],
        )  # fmt: skip
        assert said.exit_code == 0, said.output
        made[name] = page, png.read_bytes()
    return made


@pytest.mark.parametrize("name", list(SCENES))
@pytest.mark.parametrize(("width", "dark"), [(360, True), (1400, False)])
def test_the_page_opens_without_a_complaint(
    browser: Browser, pages: dict[str, tuple[Path, bytes]], name: str, width: int, dark: bool
) -> None:
    """No error, no sideways scroll, no letter smaller than a tired eye can read, one drawing of
    each sort to be seen."""
    path, _ = pages[name]
    page = browser.page()
    page.open(path.as_uri(), width, dark=dark)
    assert page.complaints == []
    assert [url for url in page.asked if not url.startswith(("file:", "data:"))] == []
    assert page.value("window.innerWidth") == width
    assert page.value("document.documentElement.scrollWidth") <= width
    assert page.value(
        "[...document.querySelectorAll('svg, table, p')].filter(e => e.offsetParent !== null || "
        "e instanceof SVGElement).every(e => e.getBoundingClientRect().right <= innerWidth + 1)"
    )
    shown = "[...document.querySelectorAll('svg[role=img]')].filter(e => e.getClientRects().length)"
    assert page.value(f"{shown}.length") == 7  # timeline, track, traffic, four graphs
    smallest = page.value(
        f"Math.min(...{shown}.flatMap(s => [...s.querySelectorAll('text')].map(t => "
        "parseFloat(getComputedStyle(t).fontSize) * s.getScreenCTM().a)))"
    )
    assert smallest >= 9.0


def test_what_was_true_is_told(pages: dict[str, tuple[Path, bytes]]) -> None:
    """Quiet is called quiet, the drag is in the headline, a name that is markup stays a name."""
    quiet, drag, busy = (pages[name][0].read_text() for name in ("quiet", "drag", "busy"))
    assert "<h1>A quiet night</h1>" in quiet
    assert "The drag rule stayed quiet." in quiet
    assert "<h1>DRAG ALARM at 03:" in drag
    assert "Nobody acknowledged" in drag
    assert "&lt;B&gt;&amp; SONS" in busy
    assert "<B>" not in busy


@pytest.mark.parametrize("name", list(SCENES))
def test_the_small_picture_is_small_and_dark(
    pages: dict[str, tuple[Path, bytes]], name: str
) -> None:
    """Under 60 kB, upright, and so dark that it does not blind: most of it nearly black."""
    data = pages[name][1]
    assert len(data) < 60_000
    with Image.open(io.BytesIO(data)) as image:
        assert image.format == "PNG"
        assert image.height > image.width >= 480
        grey = image.convert("L").histogram()
    assert sum(grey[:40]) > 0.85 * sum(grey)
