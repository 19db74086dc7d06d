"""What runs here: versions of shipkeeper, Python and the libraries it stands on."""

from __future__ import annotations

import platform
import sqlite3
from importlib.metadata import PackageNotFoundError, version

LIBRARIES = (
    "apprise", "click", "distributed", "gpiod", "matplotlib", "msgspec", "paho-mqtt", "pillow",
    "pyais", "pynmea2", "pyproj", "pyserial", "rich", "tomli", "websockets",
)  # fmt: skip


def own_version() -> str:
    """'0.1.0'; from the installed package, else from the source."""
    from .. import __version__

    return __version__


def versions() -> str:
    lines = [
        f"shipkeeper {own_version()}",
        f"Python {platform.python_version()}",
        f"SQLite {sqlite3.sqlite_version}",
    ]
    for name in LIBRARIES:
        try:
            lines.append(f"{name} {version(name)}")
        except PackageNotFoundError:
            lines.append(f"{name} not installed")
    return "\n".join(lines)
