"""`shipkeeper check`: every problem in the orders, and what the orders will do."""

from __future__ import annotations

import sys
from pathlib import Path

import click
import msgspec

from ..app.kinds import KINDS
from ..app.paths import ORDERS
from ..orders import Problem, explain, read_file, told


@click.command()
@click.option(
    "--orders",
    "path",
    type=click.Path(path_type=Path),
    default=ORDERS,
    show_default=True,
    help="The orders file.",
)
@click.option(
    "--explain", "explained", is_flag=True, help="Each rule, all its defaults, what it will do."
)
@click.option("--json", "as_json", is_flag=True, help="One JSON object.")
def check(path: Path, explained: bool, as_json: bool) -> None:
    """Read the orders and tell every problem at once.

    Ends with 0 when they are good, 1 with warnings, 2 when they are refused.
    """
    orders, problems, remarks = read_file(path, KINDS)
    code = 2 if orders is None else int(any(r.weight == "warning" for r in remarks))
    rows = explain(orders) if explained and orders is not None else []
    if as_json:
        answer = {
            "orders": str(path),
            "code": code,
            "problems": [_row(path, p) for p in problems],
            "warnings": [_row(path, r) for r in remarks if r.weight == "warning"],
            "notes": [_row(path, r) for r in remarks if r.weight == "note"],
            "explained": rows,
        }
        click.echo(msgspec.json.encode(answer).decode())
        sys.exit(code)
    for row in rows:
        click.echo(row)
    if problems:
        click.echo(told(str(path), problems))
    for remark in remarks:
        click.echo(remark.told(str(path)))
    if orders is not None:
        click.echo(_good(str(path), len(orders.rules), remarks))
    sys.exit(code)


def _good(path: str, rules: int, remarks: list[Problem]) -> str:
    warnings = sum(1 for remark in remarks if remark.weight == "warning")
    end = f"{warnings} warning{'s' if warnings != 1 else ''}" if warnings else "no warnings"
    return f"{path}: good orders, {rules} rules, {end}."


def _row(path: Path, problem: Problem) -> dict[str, object]:
    return {
        "file": str(path),
        "line": problem.line,
        "table": problem.where,
        "key": problem.key or None,
        "expected": problem.expected,
        "found": problem.found or None,
        "text": problem.told(str(path)),
    }
