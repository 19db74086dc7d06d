"""Secrets in the orders: named, never written out, and readable by nobody else.

A push address or a password is given as "credential:NAME" (systemd hands it over) or as the
full path of a file. What is refused here is never shown: an error text may go to a log.
"""

from __future__ import annotations

import re
import stat
from pathlib import Path
from typing import Any

from .problems import hidden
from .words_for import Field

SECRET_KEYS = frozenset({"urls", "password", "passphrase", "token", "secret", "secrets"})
EXPECTED = 'expected "credential:NAME" or the full path of a file that holds it'

_CREDENTIAL = re.compile(r"credential:[A-Za-z0-9_.@-]+\Z")
_LOGIN_IN_URL = re.compile(r"[A-Za-z][A-Za-z0-9+.-]*://[^/\s]*:[^/\s]*@")


def is_secret_key(key: str) -> bool:
    """By its key, so that no kind can forget to say it: `urls`, `password`, `urls_alarm`."""
    return not SECRET_KEYS.isdisjoint(key.split("_"))


def secret_fault(field: Field, raw: Any, faulty: bool) -> str | None:
    """What is wrong with a value that is a secret, or hides one; None when nothing.

    `faulty`: it is not even of the right type.
    """
    if not is_secret_key(field.key):
        if isinstance(raw, str) and _LOGIN_IN_URL.match(raw):
            return f"a password does not stand in the orders; found {hidden(raw)}"
        return None
    if isinstance(raw, str) and not faulty:
        if _CREDENTIAL.match(raw) or raw == "":
            return None
        if raw.startswith("/") and "://" not in raw and "\0" not in raw:
            return _file_fault(Path(raw))
    return f"a secret does not stand in the orders; {EXPECTED}; found {hidden(str(raw))}"


def _file_fault(path: Path) -> str | None:
    try:
        mode = path.stat().st_mode
    except OSError:
        return None  # it may come later, or be there on the boat only; the outlet will say so
    if mode & stat.S_IROTH:
        return (
            f"expected a file that only the daemon can read; {path} can be read by everyone "
            f"on this computer. Mend it: chmod o-rwx {path}"
        )
    return None
