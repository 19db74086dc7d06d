"""Secrets blotted out of a text that is to be handed to a stranger. Pure.

Two nets, for either may have a hole: what the boat's own secret files hold, wherever it turns
up; and whatever has the form of a secret (a URL with more than a host, the value of a key such
as `token`, a telephone number, a long key in hex), also in orders that `check` refuses because
a secret stands in them. Too much blotted out is no harm.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable

BLOT = "(left out)"
LEAST = 4  # a whole line of a secret file
LEAST_PART = 8  # a part of a URL, which may be an everyday word

_REFERENCE = re.compile(r"credential:[A-Za-z0-9_.@-]+|(?<=[\"'])/[^\"'\n]+(?=[\"'])")
_URL = re.compile(r"([A-Za-z][A-Za-z0-9+.-]*)://[^\s\"'<>]+")
_KEY = re.compile(
    r"([\"']?\b[\w.-]*(?:token|password|passphrase|passwd|secret|api_?key|urls?|auth(?:orization)?)"
    r"[\w-]*[\"']?\s*[=:]\s*)(\"(?:[^\"\\\n]|\\.)*\"|'[^'\n]*'|\[[^\]]*\]|[^\s,}\"']+)",
    re.IGNORECASE,
)
_NAMED = re.compile(r"[\"'](?:credential:[A-Za-z0-9_.@-]+|/[^\"'\n:]*|)[\"']\Z")
_BEARER = re.compile(r"\b(Bearer|Basic)\s+[A-Za-z0-9+/=._~-]{6,}", re.IGNORECASE)
_PHONE = re.compile(r"(?<![\w.])(?:\+|00)[1-9](?:[ ()./-]{0,2}\d){6,14}(?![\w.]*:)")
_HEX = re.compile(r"\b[0-9A-Fa-f]{32,}\b")


def references(orders_text: str) -> list[str]:
    """What in the orders may name a secret: 'credential:NAME' and full paths."""
    return list(dict.fromkeys(_REFERENCE.findall(orders_text)))


def parts(secret: str) -> set[str]:
    """The lines of a secret's text and, of URLs, each part that is long enough to be one."""
    found = set()
    for line in map(str.strip, secret.splitlines()):
        if len(line) < LEAST or line.startswith("#"):
            continue
        found.add(line)
        found |= {p for p in re.split(r"[/:@?&=,;\s]+", line) if len(p) >= LEAST_PART}
    return found - {"shipkeeper", "localhost", "127.0.0.1"}


def blotter(secrets: Iterable[str]) -> Callable[[str], str]:
    """A function that blots these secrets' texts, and all of a secret's form, out of a text."""
    known = set().union(*map(parts, secrets))
    # In a line of JSON it may stand with escapes.
    known |= {json.dumps(text)[1:-1] for text in known}
    known |= {json.dumps(text, ensure_ascii=False)[1:-1] for text in known}
    longest_first = sorted(known, key=len, reverse=True)
    exact = re.compile("|".join(map(re.escape, longest_first))) if known else None

    def blot(text: str) -> str:
        if exact is not None:
            text = exact.sub(BLOT, text)
        text = _BEARER.sub(rf"\1 {BLOT}", text)
        text = _KEY.sub(_value, text)
        text = _URL.sub(rf"\1://{BLOT}", text)
        text = _PHONE.sub(BLOT, text)
        return _HEX.sub(BLOT, text)

    return blot


def _value(match: re.Match[str]) -> str:
    """A reference to a secret says where it lies, and stays."""
    if _NAMED.match(match[2]):
        return match[0]
    return f'{match[1]}"{BLOT}"'
