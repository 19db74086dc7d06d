"""Writes the manual page shipkeeper(1) from the program's own help, so that it is always in step.

Usage: PYTHON manpage.py > shipkeeper.1      with the Python that has shipkeeper installed
"""

from __future__ import annotations

import inspect
import re
import sys
from collections.abc import Iterator

import click

from shipkeeper import __version__
from shipkeeper.cli.main import VERBS, cli

FILES = (
    ("/etc/shipkeeper/orders.toml", "The standing orders. /etc/shipkeeper/examples has some."),
    ("/etc/shipkeeper/push-urls", "Push addresses (mode 600), credential:push-urls in the orders."),
    ("/var/lib/shipkeeper", "Journal, what an alert needs to outlive a power cut, recordings."),
    ("/run/shipkeeper/control", "The control socket; members of the group shipkeeper may command."),
    ("/dev/shipkeeper/", "Serial ports by the USB socket they are plugged into."),
)
UNITS = """The watch is shipkeeper.service. When it has failed five times within 90 s, or one start
has hung for 60 s, shipkeeper-down.service sounds the buzzer for 40 s and then has it tried again,
and so on. To stop both:
systemctl stop shipkeeper-down shipkeeper; systemctl stop shipkeeper."""
AID = """An aid, never a look-out: COLREG rule 5 asks for a proper look-out by sight and hearing
and by all available means, at all times."""


def escaped(text: str) -> str:
    """Text that roff takes as it stands."""
    lines = text.replace("\\", "\\e").replace("-", "\\-").split("\n")
    return "\n".join(f"\\&{line}" if line[:1] in (".", "'") else line for line in lines)


def paragraphs(text: str) -> Iterator[str]:
    """Help text as roff. A block that begins with click's mark \\b keeps its lines."""
    for block in re.split(r"\n\s*\n", inspect.cleandoc(text)):
        if block.startswith("\b"):
            kept = block.removeprefix("\b").strip("\n")
            yield f".PP\n.nf\n{escaped(kept)}\n.fi"
        else:
            yield f".PP\n{escaped(' '.join(block.split()))}"


def options(command: click.Command, ctx: click.Context) -> Iterator[str]:
    for parameter in command.get_params(ctx):
        record = parameter.get_help_record(ctx)
        if record is not None:
            yield f".TP\n.B {escaped(record[0])}\n{escaped(record[1] or ' ')}"


def commands(
    command: click.Command, name: str, parent: click.Context | None
) -> Iterator[tuple[str, click.Command, click.Context]]:
    """A verb, and the words below it that are commands of their own."""
    ctx = click.Context(command, info_name=name, parent=parent)
    yield ctx.command_path, command, ctx
    if isinstance(command, click.Group):
        for word in command.list_commands(ctx):
            below = command.get_command(ctx, word)
            if below is not None and not below.hidden:
                yield from commands(below, word, ctx)


def page() -> str:
    out = [
        f'.TH SHIPKEEPER 1 "" "shipkeeper {__version__}" "shipkeeper"',
        ".SH NAME\nshipkeeper \\- the watch of a boat when nobody looks at a screen",
        ".SH SYNOPSIS\n.B shipkeeper\n.I VERB\n[\\fIoption\\fR ...]",
        ".SH DESCRIPTION",
        *paragraphs(cli.help or ""),
        f".PP\n{escaped(AID)}",
        ".SH VERBS",
    ]
    root = click.Context(cli, info_name="shipkeeper")
    for verb in VERBS:
        command = cli.get_command(root, verb)
        assert command is not None
        for path, each, ctx in commands(command, verb, root):
            pieces = " ".join(each.collect_usage_pieces(ctx))
            out.append(f".SS {escaped(f'{path} {pieces}')}")
            out += paragraphs(each.help or each.short_help or "")
            out += options(each, ctx)
    out.append(".SH OPTIONS")
    out += options(cli, root)
    out.append(".SH EXIT STATUS\n0 good; 1 done with warnings, or alerts stand; 2 refused; 3 no "
               "daemon reached.")  # fmt: skip
    out.append(".SH FILES")
    out += [f".TP\n.I {escaped(path)}\n{escaped(text)}" for path, text in FILES]
    out.append(f".SH SERVICES\n{escaped(UNITS)}")
    return "\n".join(out) + "\n"


if __name__ == "__main__":
    sys.stdout.write(page())
