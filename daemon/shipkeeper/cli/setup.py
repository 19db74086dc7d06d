"""`shipkeeper setup`: a few questions, and what is heard on the ports, become orders."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import socket
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click
import msgspec

from ..app.paths import ORDERS, daemon_socket
from ..orders.draft import Answers, Person, Wire, draft
from ..words.address import bad_address
from ..words.orders import LEAST_MMSI
from ..words.units import UnitError, parse_quantity
from .ask import REFUSED
from .show import clean

if TYPE_CHECKING:
    from ..app.listening import Hearing

PEOPLE = 8  # asked for one after the other until an empty answer
_NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,30}\Z")
Check = Callable[[str], str]  # what was typed -> the answer; ValueError says what was expected


@click.command()
@click.option("--orders", "path", type=click.Path(path_type=Path), default=ORDERS,
              show_default=True, help="Where to write them.")  # fmt: skip
@click.option("--force", is_flag=True, help="Replace orders that are there; kept as NAME.old.")
@click.option("--port", "given", multiple=True, help="Only this port; may be given again.")
@click.option("--tcp", "servers", multiple=True, help="A server of sentences, HOST:PORT.")
@click.option("--listen-for", "for_s", type=click.FloatRange(0.2, 60.0), default=3.0,
              show_default=True, help="Seconds at each speed of a port.")  # fmt: skip
@click.option("--no-listen", is_flag=True, help="Leave the ports alone.")
@click.option("--json", "as_json", is_flag=True,
              help="Only listen, and print what was heard; asks and writes nothing.")  # fmt: skip
def setup(
    path: Path, force: bool, given: tuple[str, ...], servers: tuple[str, ...], for_s: float,
    no_listen: bool, as_json: bool,
) -> None:  # fmt: skip
    """Listen on the ports, ask about boat and people, write orders with comments.

    Answers may also come from a file: shipkeeper setup < answers, a line each. An empty line
    takes what stands in brackets, or leaves the question out.
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
    heard = _listen(given, servers, for_s, no_listen, quiet=as_json)
    if as_json:
        click.echo(msgspec.json.encode({"heard": heard}).decode())
        return
    try:
        _ask_and_write(path, heard, for_s)
    except click.Abort:
        click.echo()
        _refuse("the answers ended before the questions; nothing was written")


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


def _ask_and_write(path: Path, heard: list[Hearing], for_s: float) -> None:
    wires = _wires(heard, for_s)
    answers = msgspec.structs.replace(_vessel(), wires=tuple(wires))
    while problems := _problems(draft(answers), path):
        for line in problems:
            click.echo(line)
        click.echo("Once more, please.")
        answers = msgspec.structs.replace(_vessel(), wires=tuple(wires))
    line = _asked("GPIO line of the buzzer (such as 17; empty: none)", "", _gpio_line)
    people, secrets = _people(path.absolute().parent)
    answers = msgspec.structs.replace(
        answers, people=tuple(people), buzzer_line=int(line) if line else None
    )
    text = draft(answers)
    if problems := _problems(text, path):
        click.echo("\n".join(problems), err=True)
        _refuse("orders from these answers would be refused; nothing was written")
    try:
        _write(path, text, secrets)
    except OSError as error:
        _refuse(f"{error.filename}: {error.strerror}")
    click.echo(f"Written: {', '.join(str(name) for name in (path, *secrets))}")
    click.echo(f"Next: shipkeeper check --explain --orders {path}; then prove it: shipkeeper drill")


def _wires(heard: list[Hearing], for_s: float) -> list[Wire]:
    from ..app.listening import listen_tcp

    wires: list[Wire] = []
    for one in heard:
        if one.found == "sentences" and one.what and _yes(f"Use {clean(one.address)}?"):
            wires.append(_wire(one, wires))
    while server := _asked("A server of sentences aboard, HOST:PORT (empty: none)", "", _server):
        one = listen_tcp(server, for_s)
        click.echo(f"  {_told(one)}")
        if _yes(f"Use {server}?"):
            wires.append(_wire(one, wires))
    return wires


def _wire(one: Hearing, others: list[Wire]) -> Wire:
    """Named for what it brings; a name is used once."""
    own = {"position": "gnss", "ais": "ais", "radar": "radar"}
    base = own.get(one.what[0], "boat") if len(one.what) == 1 else "boat"
    taken = {wire.name for wire in others}
    name = next(n for n in (base, *(f"{base} {i}" for i in range(2, 99))) if n not in taken)
    return Wire(name, one.key, one.address, one.baud, one.what)


def _vessel() -> Answers:
    length = _length
    return Answers(
        name=_asked("Name of the boat", None, _text),
        length=_asked('Length, with its unit, such as "11.4 m" or "38 ft"', None, length),
        beam=_asked("Beam", None, length),
        mmsi=int(_asked("Her MMSI (0: none)", "0", _mmsi)),
        from_bow=_asked("GNSS antenna: how far from the bow? (empty: not known)", "", length),
        from_port=_asked("GNSS antenna: how far from the port side? (empty)", "", length),
        bow_height=_asked("Bow roller above the water (empty: not known)", "", length),
        rode=_asked("Rode: chain or mixed (chain and rope) (empty: not known)", "", _rode),
        transducer_depth=_asked("Depth transducer below the waterline (empty)", "", length),
        draught=_asked("Draught (empty: not known)", "", length),
    )


def _people(folder: Path) -> tuple[list[Person], dict[Path, str]]:
    """Whom to push to, the first at once and the others later; and the files to write."""
    people: list[Person] = []
    secrets: dict[Path, str] = {}
    for number in range(1, PEOPLE + 1):
        name = _asked(
            f"Person no. {number} to call, one word, such as {'mate' if number > 1 else 'skipper'}"
            " (empty: no more)", "", _name,
        )  # fmt: skip
        if not name:
            break
        if name in ("buzzer", "log") or any(one.name == name for one in people):
            click.echo(f"{name} is a name already taken; another, please")
            continue
        file = folder / f"push-{name}"
        if not (file.exists() and _yes(f"{file} is there already; keep its addresses?")):
            address = _asked("Push address, an apprise URL (kept in a file of its own)", None, _url)
            secrets[file] = f"# Push addresses of {name}, one a line\n{address}\n"
        people.append(Person(name, str(file)))
    return people, secrets


def _asked(question: str, default: str | None, check: Check) -> str:
    """Asks until the answer is one; `default` None: it must be given."""
    while True:
        shown = bool(default)
        said = click.prompt(question, default=default or "", show_default=shown).strip()
        if not said and default == "":
            return ""
        try:
            return check(said)
        except ValueError as error:
            click.echo(f"  {clean(str(error))}")


def _yes(question: str) -> bool:
    return click.confirm(question, default=True)


def _text(said: str) -> str:
    if not said or not said.isprintable():
        raise ValueError("expected a name")
    return said


def _length(said: str) -> str:
    try:
        parse_quantity(said, "length")
    except UnitError as error:
        raise ValueError(str(error)) from None
    return said


def _mmsi(said: str) -> str:
    if said != "0" and not (said.isascii() and said.isdigit() and len(said) == 9
                            and int(said) >= LEAST_MMSI):  # fmt: skip
        raise ValueError("expected nine digits, as in the radio licence, or 0")
    return said


def _rode(said: str) -> str:
    if said not in ("chain", "mixed"):
        raise ValueError("expected chain or mixed")
    return said


def _gpio_line(said: str) -> str:
    if not (said.isascii() and said.isdigit() and int(said) <= 511):
        raise ValueError("expected the number of a line, 0 to 511")
    return said


def _server(said: str) -> str:
    for _, text in bad_address("server", said):
        raise ValueError(text)
    return said


def _name(said: str) -> str:
    if not _NAME.match(said):
        raise ValueError("expected one word of small letters and figures")
    return said


def _url(said: str) -> str:
    if "://" not in said or not said.isprintable() or " " in said:
        raise ValueError("expected an address with :// in it")
    return said


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
        _replace(secret, content, 0o640 if _to_group(secret.parent) else 0o600)
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


def _to_group(folder: Path) -> bool:
    """In the service's own folder its group reads the secrets; elsewhere only who wrote them."""
    import grp

    try:
        grp.getgrnam("shipkeeper")
    except KeyError:
        return False
    return folder == ORDERS.parent and os.geteuid() == 0
