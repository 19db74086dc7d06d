"""Who may import whom: DESIGN's directions, held by a walk over the source. No exceptions."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2] / "daemon" / "shipkeeper"

# package or top module -> what of ours it may import, besides itself
MAY = {
    "words": set(),
    "feed": {"words"},
    "picture": {"words"},
    "alerts": {"words"},
    "rules": {"words", "picture"},
    "simulate": {"words"},
    "engine": {"words", "feed", "picture", "rules", "alerts", "answers", "depicting",
               "watchkeeping",
               "owncautions"},
    "drilling": {"words", "rules", "engine"},
    "answers": {"words", "picture", "rules", "engine"},
    "depicting": {"words", "picture", "engine"},
    "owncautions": {"picture", "alerts"},
    "watchkeeping": {"words", "picture", "engine", "drilling"},
    "link": {"words"},
    "inputs": {"words", "link"},
    "outlets": {"words", "link"},
    "store": {"words"},
    "orders": {"words"},
    "rehearse": {"words", "feed", "picture", "rules", "alerts", "engine", "simulate"},
    "app": {"words", "feed", "engine", "orders", "inputs", "outlets", "store", "rules", "rehearse"},
    "cli": {"words", "app", "orders", "rehearse", "store"},
}  # fmt: skip
CORE = (
    "feed",
    "picture",
    "rules",
    "alerts",
    "engine",
    "answers",
    "depicting",
    "watchkeeping",
    "owncautions",
    "drilling",
)
NOT_IN_CORE = {"time", "threading", "socket", "random", "logging", "subprocess", "os", "sqlite3",
               "queue", "asyncio", "select", "secrets"}  # fmt: skip


def modules() -> list[Path]:
    return sorted(ROOT.rglob("*.py"))


def home(path: Path) -> str:
    """The package (or top module) that a file belongs to."""
    inside = path.relative_to(ROOT)
    return inside.parts[0].removesuffix(".py")


def imported(path: Path) -> set[str]:
    """Absolute names of everything a file imports."""
    package = ["shipkeeper", *path.relative_to(ROOT).parts[:-1]]
    found = set()
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            module = ".".join([*base, *(node.module or "").split(".")]).strip(".")
            found |= {f"{module}.{alias.name}" for alias in node.names}
    return found


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(ROOT)))
def test_imports_go_one_way(path: Path) -> None:
    """Each package imports only what the table allows it."""
    mine = home(path)
    if mine in ("__init__", "py"):
        return
    for name in imported(path):
        parts = name.split(".")
        if parts[0] != "shipkeeper" or len(parts) < 2 or parts[1].startswith("__"):
            continue
        assert parts[1] == mine or parts[1] in MAY[mine], f"{mine} imports {name}"


@pytest.mark.parametrize(
    "path", [p for p in modules() if home(p) in CORE], ids=lambda p: str(p.relative_to(ROOT))
)
def test_the_core_has_no_clock_thread_or_file(path: Path) -> None:
    """Time is an argument; what reads a clock or a wire lives at the edge."""
    roots = {name.split(".")[0] for name in imported(path)}
    assert not roots & NOT_IN_CORE


@pytest.mark.parametrize("path", modules(), ids=lambda p: str(p.relative_to(ROOT)))
def test_every_module_says_what_it_is_for(path: Path) -> None:
    """The first docstring line is the module's purpose."""
    said = ast.get_docstring(ast.parse(path.read_text()))
    assert said, path
