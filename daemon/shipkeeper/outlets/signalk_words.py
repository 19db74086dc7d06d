"""Alerts as notifications of the Signal K format.

A notification lies below the data that it speaks of: `notifications.` + branch + our own name.
Its value is method, state and message; `null` takes it away and is said only of what is truly
normal, never of what nobody can judge.
"""

from __future__ import annotations

import re
from typing import Any

from ..words.alert import AlertRecord, Priority, State
from .plain import lines

ROOT = "notifications."
OURS = "shipkeeper-"
BRANCHES = {
    "drag": "navigation.anchor",
    "zone": "navigation.closestApproach",
    "proximity": "navigation.closestApproach",
    "depth": "environment.depth",
    "wind": "environment.wind",
    "sensor": "electrical",
    "contact": "sensors",
    "distress": "communication",
    "feed": "navigation",
}
OWN_BRANCH = "navigation.watch"
_NOT_NAME = re.compile(r"[^A-Za-z0-9-]")
STATES = {
    Priority.EMERGENCY: "emergency",
    Priority.ALARM: "alarm",
    Priority.WARNING: "warn",
    Priority.CAUTION: "alert",
}
RANK = {"nominal": 0, "normal": 0, "alert": 1, "warn": 2, "alarm": 3, "emergency": 4}
_QUIET = (State.SHELVED, State.OUT_OF_SERVICE)
_OVER = (State.RECTIFIED, State.LATCHED, State.LATCHED_ACKNOWLEDGED)


def path_of(record: AlertRecord) -> str:
    """'drag' -> 'notifications.navigation.anchor.shipkeeper-drag'."""
    name = _NOT_NAME.sub("-", record.id)
    return f"{ROOT}{BRANCHES.get(record.kind, OWN_BRANCH)}.{OURS}{name}"


def is_ours(path: str) -> bool:
    return path.startswith(ROOT) and path.rpartition(".")[2].startswith(OURS)


def branch_of(path: str) -> str:
    """The branch that a notification of ours, or of somebody else, belongs to."""
    return path.rpartition(".")[0] if is_ours(path) else path


def value_of(record: AlertRecord, quiet: bool) -> dict[str, Any]:
    """quiet: no sound from there, since the server already sounds for the same."""
    words = lines(record.text) or record.title
    if record.drill:
        words = f"DRILL. {words}"
    if record.state in _OVER:
        return {"method": ["visual"], "state": "normal", "message": f"Cleared. {words}"}
    if record.state in _QUIET:
        return {"method": ["visual"], "state": "alert", "message": f"{record.state}: {words}"}
    sounds = record.state is State.UNACKNOWLEDGED and record.priority > Priority.CAUTION
    method = ["visual", "sound"] if sounds and not quiet and record.group is None else ["visual"]
    return {"method": method, "state": STATES[record.priority], "message": words}


def delta(values: dict[str, Any], at: str) -> dict[str, Any]:
    """Paths with their new values as one message of own ship."""
    return {
        "context": "vessels.self",
        "updates": [
            {
                "$source": "shipkeeper",
                "timestamp": at,
                "values": [{"path": path, "value": value} for path, value in values.items()],
            }
        ],
    }
