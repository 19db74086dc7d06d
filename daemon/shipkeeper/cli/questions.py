"""The questions of `shipkeeper setup`: asked at the terminal, or answered beforehand by options."""

from __future__ import annotations

import grp
import os
import re
import stat
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import click

from ..app.paths import ORDERS
from ..orders.draft import Answers, Person
from ..words.address import bad_address
from ..words.orders import LEAST_MMSI
from ..words.units import UnitError, parse_quantity
from .show import clean

PEOPLE = 8  # asked for one after the other until an empty answer
TAKEN = ("buzzer", "log")  # names of outlets that setup writes itself
_NAME = re.compile(r"[a-z0-9][a-z0-9_-]{0,30}\Z")
Check = Callable[[str], str]  # what was typed -> the answer; ValueError says what was expected


class Refused(Exception):
    """Why no orders can be made from these answers."""


class Questions:
    """What is still to be asked. Options that answer badly are refused at once.

    `said`: answers that options gave, by name. `named`: `--person`, see _person. `folder`: where
    the orders and their secrets go. With `silent` nothing is asked.
    """

    def __init__(
        self, said: Mapping[str, str], named: Sequence[str], folder: Path, silent: bool
    ) -> None:
        self._said, self._folder, self.silent = dict(said), folder, silent
        for name, answer in said.items():
            try:
                self._said[name] = CHECKS[name](answer)
            except ValueError as error:
                raise Refused(f"{_option(name)}: {error}") from None
        lacking = [_option(name) for name in NEEDED if silent and name not in said]
        if lacking:
            raise Refused(f"--no-questions wants {', '.join(lacking)} too")
        self._named = [_person(word, folder) for word in named]
        names = [person.name for person in self._named]
        if len(set(names)) < len(names) or set(names) & set(TAKEN):
            raise Refused(f"--person: expected names that differ, none of {', '.join(TAKEN)}")

    def vessel_was_said(self) -> bool:
        return any(name in self._said for name in Answers.__struct_fields__)

    def vessel(self) -> Answers:
        ask = self._answer
        return Answers(
            name=ask("name", "Name of the boat", None),
            length=ask("length", 'Length, with its unit, such as "11.4 m" or "38 ft"', None),
            beam=ask("beam", "Beam", None),
            mmsi=int(ask("mmsi", "Her MMSI (0: none)", "0")),
            from_bow=ask("from_bow", "GNSS antenna: how far from the bow? (empty: not known)"),
            from_port=ask("from_port", "GNSS antenna: how far from the port side? (empty)"),
            bow_height=ask("bow_height", "Bow roller above the water (empty: not known)"),
            rode=ask("rode", "Rode: chain or mixed (chain and rope) (empty: not known)"),
            transducer_depth=ask(
                "transducer_depth", "Depth transducer below the waterline (empty)"
            ),
            draught=ask("draught", "Draught (empty: not known)"),
        )

    def buzzer_line(self) -> int | None:
        line = self._answer("buzzer_line", "GPIO line of the buzzer (such as 17; empty: none)")
        return int(line) if line else None

    def servers(self, take: Callable[[str], None]) -> None:
        """Each server of sentences that is named."""
        question = "A server of sentences aboard, HOST:PORT (empty: none)"
        while not self.silent and (address := _asked(question, "", server)):
            take(address)

    def people(self) -> tuple[list[Person], dict[Path, str]]:
        """Whom to push to, the first at once and the others later; and the files to write."""
        people, secrets = list(self._named), dict[Path, str]()
        if self.silent or self._named:
            return people, secrets
        for number in range(1, PEOPLE + 1):
            such_as = "mate" if number > 1 else "skipper"
            question = f"Person no. {number} to call, one word, such as {such_as} (empty: no more)"
            name = _asked(question, "", one_word)
            if not name:
                break
            if name in TAKEN or any(one.name == name for one in people):
                click.echo(f"{name} is a name already taken; another, please")
                continue
            file = _push_file(self._folder, name)
            if not (file.exists() and self.yes(f"{file} is there already; keep its addresses?")):
                question = "Push address, an apprise URL (kept in a file of its own)"
                address = _asked(question, None, url)
                secrets[file] = f"# Push addresses of {name}, one a line\n{address}\n"
            people.append(Person(name, str(file)))
        return people, secrets

    def yes(self, question: str) -> bool:
        return self.silent or click.confirm(question, default=True)

    def _answer(self, name: str, question: str, default: str | None = "") -> str:
        if name in self._said:
            return self._said[name]
        if self.silent:
            assert default is not None
            return default
        return _asked(question, default, CHECKS[name])


def _option(name: str) -> str:
    return f"--{name.replace('_', '-')}"


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


def _push_file(folder: Path, name: str) -> Path:
    return folder / f"push-{name}"


def _person(said: str, folder: Path) -> Person:
    """`NAME` (addresses in push-NAME beside the orders), `NAME=FILE` or `NAME=credential:NAME`.

    The addresses themselves are no option: who lists the processes could read them."""
    name, given, secret = said.partition("=")
    try:
        one_word(name)
    except ValueError as error:
        raise Refused(f"--person {said}: {error} before the =") from None
    if "://" in secret:
        raise Refused(f"--person {name}: expected a file that holds the address, not the address")
    if secret.startswith("credential:"):
        return Person(name, secret)
    file = Path(secret).absolute() if given else _push_file(folder, name)
    try:
        about = file.stat()
    except OSError as error:
        raise Refused(f"--person {name}: {file}: {error.strerror}") from None
    if not stat.S_ISREG(about.st_mode) or about.st_mode & 0o004:
        raise Refused(f"--person {name}: {file}: expected a file that not everybody may read")
    group = service_reads(folder)
    if group is not None and not (about.st_mode & 0o040 and about.st_gid == group):
        raise Refused(
            f"--person {name}: {file}: expected a file that the service may read"
            f" (chgrp shipkeeper {file}; chmod 640 {file})"
        )
    return Person(name, str(file))


def service_reads(folder: Path) -> int | None:
    """Number of the service's group, where it has to read the secrets that the orders in this
    folder name; elsewhere (None) whoever starts the watch reads them."""
    try:
        number = grp.getgrnam("shipkeeper").gr_gid
    except KeyError:
        return None
    return number if folder == ORDERS.parent and os.geteuid() == 0 else None


# -- what an answer has to be ------------------------------------------------------------------


def text(said: str) -> str:
    if not said.strip() or not said.isprintable():
        raise ValueError("expected a name")
    return said


def length(said: str) -> str:
    try:
        parse_quantity(said, "length")
    except UnitError as error:
        raise ValueError(str(error)) from None
    return said


def mmsi(said: str) -> str:
    if said != "0" and not (said.isascii() and said.isdigit() and len(said) == 9
                            and int(said) >= LEAST_MMSI):  # fmt: skip
        raise ValueError("expected nine digits, as in the radio licence, or 0")
    return said


def rode(said: str) -> str:
    if said not in ("chain", "mixed"):
        raise ValueError("expected chain or mixed")
    return said


def gpio_line(said: str) -> str:
    if not (said.isascii() and said.isdigit() and int(said) <= 511):
        raise ValueError("expected the number of a line, 0 to 511")
    return said


def server(said: str) -> str:
    for _, problem in bad_address("server", said):
        raise ValueError(problem)
    return said


def one_word(said: str) -> str:
    if not _NAME.match(said):
        raise ValueError("expected one word of small letters and figures")
    return said


def url(said: str) -> str:
    if "://" not in said or not said.isprintable() or " " in said:
        raise ValueError("expected an address with :// in it")
    return said


CHECKS: dict[str, Check] = {
    "name": text,
    "mmsi": mmsi,
    "rode": rode,
    "buzzer_line": gpio_line,
    **dict.fromkeys(
        ("length", "beam", "from_bow", "from_port", "bow_height", "transducer_depth", "draught"),
        length,
    ),
}
NEEDED = ("name", "length", "beam")
