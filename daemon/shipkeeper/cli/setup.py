"""`shipkeeper setup`: a few questions, and what is heard on the ports, become orders."""

from __future__ import annotations

import contextlib
import os
import shutil
import socket
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click
import msgspec

from ..app.paths import ORDERS, daemon_socket
from ..orders.draft import Wire, draft
from ..words.address import bad_address
from .ask import REFUSED
from .questions import Questions, Refused, service_reads
from .show import clean

if TYPE_CHECKING:
    from ..app.listening import Hearing

# Options that answer a question beforehand: (name, what to give, help).
SAID = (
    ("name", "TEXT", "Name of the boat."),
    ("length", "LENGTH", "Her length, such as '11.4 m'."),
    ("beam", "LENGTH", "Her beam."),
    ("mmsi", "NUMBER", "Her own MMSI; 0: none."),
    ("from_bow", "LENGTH", "GNSS antenna, how far from the bow."),
    ("from_port", "LENGTH", "GNSS antenna, how far from the port side."),
    ("bow_height", "LENGTH", "Bow roller above the water."),
    ("rode", "chain|mixed", "Her rode."),
    ("transducer_depth", "LENGTH", "Depth transducer below the waterline."),
    ("draught", "LENGTH", "Her draught."),
    ("buzzer_line", "NUMBER", "GPIO line of the buzzer."),
)


def _said(function: Callable[..., None]) -> Callable[..., None]:
    """The options that answer a question beforehand."""
    for name, metavar, told in reversed(SAID):
        function = click.option(f"--{name.replace('_', '-')}", name, metavar=metavar, help=told)(
            function
        )
    return function


@click.command()
@click.option("--orders", "path", type=click.Path(path_type=Path), default=ORDERS,
              show_default=True, help="Where to write them.")  # fmt: skip
@click.option("--force", is_flag=True, help="Replace orders that are there; kept as NAME.old.")
@click.option("--port", "given", multiple=True, help="Only this port; may be given again.")
@click.option("--tcp", "servers", multiple=True, help="A server of sentences, HOST:PORT.")
@click.option("--listen-for", "for_s", type=click.FloatRange(0.2, 60.0), default=3.0,
              show_default=True, help="Seconds at each speed of a port.")  # fmt: skip
@click.option("--no-listen", is_flag=True, help="Leave the ports alone.")
@_said
@click.option("--person", "named", metavar="NAME[=FILE]", multiple=True,
              help="Whom to push to; may be given again. FILE holds the addresses, one a line "
                   "(default push-NAME beside the orders), or is credential:NAME.")  # fmt: skip
@click.option("--no-questions", "silent", is_flag=True,
              help="Ask nothing: use what was heard, leave out what no option says.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True,
              help="Only listen, and print what was heard; asks and writes nothing.")  # fmt: skip
def setup(
    path: Path, force: bool, given: tuple[str, ...], servers: tuple[str, ...], for_s: float,
    no_listen: bool, named: tuple[str, ...], silent: bool, as_json: bool, **said: str | None,
) -> None:  # fmt: skip
    """Listen on the ports, ask about boat and people, write orders with comments.

    What an option says is not asked; --no-questions asks nothing at all. Answers may also come
    from a file: shipkeeper setup < answers, a line each. An empty line takes what stands in
    brackets, or leaves the question out.
    """
    if not as_json and os.path.lexists(path) and not force:
        _refuse(f"{path} is there already and is left as it is; --force replaces it")
    for server in servers:
        for _, text in bad_address("--tcp", server):
            _refuse(f"--tcp: {text}")
    if not no_listen and _watch_runs():
        _refuse(
            "the watch runs, and listening would disturb its ports. Stop it "
            "(sudo systemctl stop shipkeeper), or say --no-listen"
        )
    answers = {name: answer for name, answer in said.items() if answer is not None}
    try:
        questions = Questions(answers, named, path.absolute().parent, silent)
        heard = _listen(given, servers, for_s, no_listen, quiet=as_json)
        if as_json:
            click.echo(msgspec.json.encode({"heard": heard}).decode())
            return
        _ask_and_write(path, heard, for_s, questions)
    except click.Abort:
        click.echo()
        _refuse("the answers ended before the questions; nothing was written")
    except Refused as why:
        _refuse(f"{why}; nothing was written")


def _refuse(text: str) -> NoReturn:
    click.echo(f"refused: {clean(text)}", err=True)
    sys.exit(REFUSED)


def _watch_runs() -> bool:
    with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX) as wire:
        wire.settimeout(2.0)
        wire.connect(str(daemon_socket(None, None)))
        return True
    return False


def _listen(
    given: Sequence[str], servers: Sequence[str], for_s: float, no_listen: bool, quiet: bool
) -> list[Hearing]:
    from ..app.listening import BAUDS, listen_tcp, listen_to_all, ports

    paths = [] if no_listen else list(given) or ports()
    if paths and not quiet:
        most_s = for_s * len(BAUDS)
        click.echo(f"Listening on {len(paths)} port(s), up to {most_s:.0f} s ...")
    heard = listen_to_all(paths, for_s)
    heard += [listen_tcp(server, for_s) for server in servers]
    if not quiet:
        if not paths:
            click.echo("No serial port was listened to.")
        for one in heard:
            click.echo(f"  {_told(one)}")
    return heard


def _told(one: Hearing) -> str:
    if one.found == "sentences":
        speed = f" at {one.baud} baud" if one.baud else ""
        what = ", ".join(one.what) or "nothing that is used"
        said = f"{what}{speed} ({' '.join(one.kinds)})"
        if one.bad:
            said += f"; {one.bad} of {one.good + one.bad} lines damaged"
    else:
        said = {
            "noise": "something sends, but no NMEA 0183 at any usual speed",
            "silence": "nothing came: is it switched on?",
            "in use": f"left alone: {one.why}",
            "cannot be opened": f"cannot be opened: {one.why}",
        }[one.found]
    return clean(f"{one.address}: {said}")


# -- the questions -----------------------------------------------------------------------------


def _ask_and_write(path: Path, heard: list[Hearing], for_s: float, questions: Questions) -> None:
    wires = _wires(heard, for_s, questions)
    answers = msgspec.structs.replace(questions.vessel(), wires=tuple(wires))
    while problems := _problems(draft(answers), path):
        click.echo("\n".join(problems), err=questions.vessel_was_said())
        if questions.vessel_was_said():
            raise Refused("orders from these answers would be refused")
        click.echo("Once more, please.")
        answers = msgspec.structs.replace(questions.vessel(), wires=tuple(wires))
    buzzer_line = questions.buzzer_line()
    people, secrets = questions.people()
    answers = msgspec.structs.replace(answers, people=tuple(people), buzzer_line=buzzer_line)
    text = draft(answers)
    if problems := _problems(text, path):
        click.echo("\n".join(problems), err=True)
        raise Refused("orders from these answers would be refused")
    try:
        _write(path, text, secrets)
    except OSError as error:
        raise Refused(f"{error.filename}: {error.strerror}") from None
    click.echo(f"Written: {', '.join(str(name) for name in (path, *secrets))}")
    if not wires:
        click.echo("No input stands in them: nothing is watched until one does.")
    click.echo(f"Next: shipkeeper check --explain --orders {path}; then prove it: shipkeeper drill")
    if questions.silent and not wires:
        sys.exit(1)  # a script is to notice


def _wires(heard: list[Hearing], for_s: float, questions: Questions) -> list[Wire]:
    from ..app.listening import listen_tcp

    wires: list[Wire] = []

    def take(server: str) -> None:
        one = listen_tcp(server, for_s)
        click.echo(f"  {_told(one)}")
        if questions.yes(f"Use {server}?"):
            wires.append(_wire(one, wires))

    for one in heard:
        if one.found == "sentences" and one.what and questions.yes(f"Use {clean(one.address)}?"):
            wires.append(_wire(one, wires))
    questions.servers(take)
    return wires


def _wire(one: Hearing, others: list[Wire]) -> Wire:
    """Named for what it brings; a name is used once."""
    own = {"position": "gnss", "ais": "ais", "radar": "radar"}
    base = own.get(one.what[0], "boat") if len(one.what) == 1 else "boat"
    taken = {wire.name for wire in others}
    name = next(n for n in (base, *(f"{base} {i}" for i in range(2, 99))) if n not in taken)
    return Wire(name, one.key, one.address, one.baud, one.what)


# -- writing -----------------------------------------------------------------------------------


def _problems(text: str, path: Path) -> list[str]:
    from ..app.kinds import KINDS
    from ..orders import read

    _, problems, _ = read(text, str(path), KINDS)
    return [problem.told(str(path)) for problem in problems]


def _write(path: Path, text: str, secrets: dict[Path, str]) -> None:
    """Secrets first, so that orders never name what is not there. Old files are kept."""
    path.parent.mkdir(parents=True, exist_ok=True)
    for secret, content in secrets.items():
        _replace(secret, content, 0o640 if service_reads(secret.parent) is not None else 0o600)
    _replace(path, text, 0o644)


def _replace(path: Path, text: str, mode: int) -> None:
    """All of it or none, and what was there is kept as NAME.old."""
    new = path.with_name(f"{path.name}.new")
    new.unlink(missing_ok=True)
    number = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode & 0o600)
    with os.fdopen(number, "w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    if mode & 0o040 and not mode & 0o004:
        shutil.chown(new, group="shipkeeper")
    new.chmod(mode)
    if os.path.lexists(path):
        old = path.with_name(f"{path.name}.old")
        old.unlink(missing_ok=True)
        old.hardlink_to(path)
    new.rename(path)
