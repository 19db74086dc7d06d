"""Where things are: state, control socket, orders; on a boat and on a bench."""

from __future__ import annotations

import os
from pathlib import Path

ORDERS = Path("/etc/shipkeeper/orders.toml")
_RUN = Path("/run/shipkeeper")
_STATE = Path("/var/lib/shipkeeper")


def state_folder(given: Path | None) -> Path:
    """--state, else what systemd made for us, else the boat's, else the user's own."""
    if given is not None:
        return given
    from_systemd = os.environ.get("STATE_DIRECTORY", "").partition(":")[0]
    if from_systemd:
        return Path(from_systemd)
    if os.access(_STATE, os.W_OK | os.X_OK):
        return _STATE
    base = os.environ.get("XDG_STATE_HOME", "")
    return (Path(base) if base else Path.home() / ".local" / "state") / "shipkeeper"


def readable_store(state: Path | None) -> Path | None:
    """The store's file as a reader finds it: --state, the boat's, the user's own; or None."""
    folders = [state] if state is not None else [_STATE, state_folder(None)]
    for folder in folders:
        path = folder / "shipkeeper.db"
        if os.access(path, os.R_OK):
            return path
    return None


def control_socket(given: Path | None, state: Path) -> Path:
    """Where the daemon listens: --socket, else systemd's runtime folder, else its state's."""
    if given is not None:
        return given
    runtime = os.environ.get("RUNTIME_DIRECTORY", "").partition(":")[0]
    return (Path(runtime) if runtime else state) / "control"


def memory_folder() -> Path | None:
    """systemd's runtime folder: in memory, kept over a restart, gone with the power."""
    runtime = os.environ.get("RUNTIME_DIRECTORY", "").partition(":")[0]
    return Path(runtime) if runtime else None


def daemon_socket(given: Path | None, state: Path | None) -> Path:
    """Where a command looks for the daemon: what it is told, the boat's, the user's own."""
    if given is not None:
        return given
    if state is not None:
        return state / "control"
    if (_RUN / "control").exists():
        return _RUN / "control"
    return state_folder(None) / "control"


def secret(reference: str) -> str:
    """SecretReader of words.wires: 'credential:NAME' (systemd) or a path -> its text.

    Raises OSError when it cannot be read and ValueError when it may not be used; neither
    text holds the secret.
    """
    name = reference.removeprefix("credential:")
    if name == reference:
        path = Path(reference)
        if path.stat().st_mode & 0o004:
            raise ValueError(f"{path} can be read by everyone; chmod 600 it")
        return path.read_text(encoding="utf-8").strip()
    folder = os.environ.get("CREDENTIALS_DIRECTORY", "")
    if not folder:
        raise ValueError(f"no systemd credentials here, so no {reference}")
    if "/" in name or name in ("", ".", ".."):
        raise ValueError(f"{reference} names no credential")
    return (Path(folder) / name).read_text(encoding="utf-8").strip()
