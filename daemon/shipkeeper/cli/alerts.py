"""`shipkeeper alerts`: the alerts that stand, or everything about one."""

from __future__ import annotations

from typing import Any

import click

from .ask import Place, ask, asking, say
from .show import alerts_text, clean, clock


@click.command()
@click.argument("ident", metavar="[ID]", required=False)
@asking
def alerts(ident: str | None, place: Place, as_json: bool) -> None:
    """The alerts that stand, the most urgent first; with ID, everything about that one.

    Ends with 1 when alerts stand.
    """
    answer = ask(place, "alerts", {"id": ident})
    say(answer, as_json, _one if ident else _all)


def _all(data: dict[str, Any]) -> str:
    return alerts_text(data["alerts"])


def _one(data: dict[str, Any]) -> str:
    """Every fact by its name, times as UTC; what is empty is left out."""
    facts = dict(data)
    facts |= facts.pop("labels", {})
    for name, label in facts.pop("times", {}).items():
        facts[name] = None
        stem = name.removesuffix("_s")
        facts[stem if stem.endswith("_at") else f"{stem}_at"] = f"{clock(label)} UTC"
    facts.pop("raises", None)
    subject, numbers = facts.pop("subject", {}), facts.pop("facts", {})
    facts["subject"] = subject.get("name") if isinstance(subject, dict) else subject
    facts |= {f"facts.{name}": value for name, value in numbers.items()}
    width = max(map(len, facts), default=0)
    return "\n".join(
        f"{name:<{width}}  {clean(str(value))}"
        for name, value in facts.items()
        if value not in (None, "", [], {}, False)
    )
