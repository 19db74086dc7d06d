"""What orders are made of: quantities with bounds, and the keys that every table shares.

Each rule kind, input and outlet declares its own frozen struct in its own file, built from
the annotated types here. The loader in orders/ reads the annotations: a `Quantity` field is
a string with a unit in the file and an SI float in the struct. Every number declares both
bounds; a house test walks the structs and refuses an open one. The key in the file is the
field's encoded name (`confirm_s: Seconds = field(name="confirm")`).
"""

from __future__ import annotations

import re
from typing import Annotated, Any, ClassVar, Literal, cast

import msgspec
from msgspec import field

from .wires import Aboard, EdgeOutlet, InputWorker, LevelOutlet, SecretReader

Watch = Literal["anchored", "moored", "berthed", "underway"]
WATCHES: tuple[Watch, ...] = ("anchored", "moored", "berthed", "underway")
PriorityLabel = Literal["emergency alarm", "alarm", "warning", "caution"]


class Quantity(msgspec.Struct, frozen=True):
    """Marks a field as 'a number and a unit' of one dimension, with bounds in SI."""

    dimension: str  # a key of units.UNITS
    low: float
    high: float


class Number(msgspec.Struct, frozen=True):
    """Marks a plain number with its bounds (bearings, counts, degrees of position)."""

    low: float
    high: float


Metres = Annotated[float, Quantity("length", 0.0, 100_000.0)]
SignedMetres = Annotated[float, Quantity("length", -100.0, 100.0)]
Speed = Annotated[float, Quantity("speed", 0.0, 100.0)]  # m/s
Seconds = Annotated[float, Quantity("time", 0.0, 366 * 86400.0)]
Degrees = Annotated[float, Number(-360.0, 360.0)]
Angle = Annotated[float, Quantity("angle", 0.0, 360.0)]
Latitude = Annotated[float, Number(-90.0, 90.0)]
Longitude = Annotated[float, Number(-180.0, 180.0)]
Count = Annotated[int, Number(0, 1_000_000)]
Size = Annotated[float, Quantity("bytes", 1e5, 1e12)]
Mmsi = Annotated[int, Number(0, 999_999_999)]
LEAST_MMSI = 100_000_000  # nine digits; one of a ship begins with 2 to 7 (ITU-R M.585)
Place = tuple[Latitude, Longitude]


class Table(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Base of every table of the orders file."""

    # The key in the file, 'zone' or 'drag'; and whether it is an array ([[zone]]).
    table: ClassVar[str] = ""
    many: ClassVar[bool] = True
    # Keys whose default is no single value -> what holds when they are left out, in words.
    left_out: ClassVar[dict[str, str]] = {}

    def problems(self) -> list[tuple[str, str]]:
        """Cross-checks within the table: (key, what is wrong and what was expected)."""
        return []

    def explain(self) -> list[str]:
        """Plain sentences: what these orders will do, with every default spelled out."""
        return []


class RuleOrders(Table, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Keys that every rule has. Kinds give their own defaults and their own `deadband`."""

    name: str = ""
    priority: PriorityLabel | Literal["none"] = "warning"
    confirm_s: Seconds = field(default=5.0, name="confirm")
    clear_s: Seconds = field(default=60.0, name="clear")
    watches: tuple[Watch, ...] = WATCHES
    call: tuple[str, ...] | None = None  # outlets; None: all
    latch: bool = False
    consequence: str = ""
    response: str = ""

    @property
    def held_s(self) -> float:
        """How long it must hold before it is raised."""
        return self.confirm_s

    def build(self, vessel: Vessel) -> Any:
        """The rule that these orders make (rules/rule.py has its contract)."""
        raise NotImplementedError


class Antenna(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where the GNSS antenna stands in the boat."""

    from_bow_m: Metres = field(name="from_bow")
    from_port_m: Metres | None = field(default=None, name="from_port")


class Vessel(Table, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[vessel]: only name, length and beam are required; what is missing costs something."""

    table: ClassVar[str] = "vessel"
    many: ClassVar[bool] = False

    name: str
    length_m: Annotated[float, Quantity("length", 1.0, 500.0)] = field(name="length")
    beam_m: Annotated[float, Quantity("length", 0.3, 100.0)] = field(name="beam")
    mmsi: Mmsi = 0
    antenna: Antenna | None = None
    bow_height_m: Annotated[float, Quantity("length", 0.0, 30.0)] | None = field(
        default=None, name="bow_height"
    )
    rode: Literal["chain", "mixed"] | None = None
    chain_size_m: Annotated[float, Quantity("length", 0.004, 0.1)] | None = field(
        default=None, name="chain_size"
    )
    transducer_depth_m: Annotated[float, Quantity("length", 0.0, 20.0)] | None = field(
        default=None, name="transducer_depth"
    )
    draught_m: Annotated[float, Quantity("length", 0.0, 30.0)] | None = field(
        default=None, name="draught"
    )

    def problems(self) -> list[tuple[str, str]]:
        found = []
        if self.mmsi and self.mmsi < LEAST_MMSI:
            found.append(("mmsi", "expected nine digits, as in the radio licence, or 0 for none"))
        if self.beam_m > self.length_m:
            found.append(("beam", "is more than the length of the boat"))
        if self.antenna is not None and self.antenna.from_bow_m > self.length_m:
            found.append(("antenna", "from_bow is more than the length of the boat"))
        if (
            self.antenna is not None
            and self.antenna.from_port_m is not None
            and self.antenna.from_port_m > self.beam_m
        ):
            found.append(("antenna", "from_port is more than the beam of the boat"))
        return found


class CallListEntry(Table, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[[call_list]]: who is called when nobody acknowledges."""

    table: ClassVar[str] = "call_list"

    after_s: Annotated[float, Quantity("time", 0.0, 3600.0)] = field(name="after")
    call: tuple[str, ...] = ()


class Recorder(Table, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[recorder]: raw sentences kept for rehearsals, bounded by days and bytes."""

    table: ClassVar[str] = "recorder"
    many: ClassVar[bool] = False

    keep_s: Seconds = field(default=14 * 86400.0, name="keep")
    limit_bytes: Size = field(default=2e9, name="limit")
    folder: str = ""  # default: recordings/ in the state directory


class QuietHours(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Hours in which a person is spared warnings and cautions; alarms always go through.
    Local time by a fixed offset: no time zone can change it in the night."""

    from_: str = field(name="from")
    to: str
    utc_offset_s: Annotated[float, Quantity("time", -14 * 3600.0, 14 * 3600.0)] = field(
        default=0.0, name="utc_offset"
    )

    def __post_init__(self) -> None:
        if self.begins_s == self.ends_s:
            raise ValueError("from and to are the same time; leave quiet_hours out for none")

    @property
    def begins_s(self) -> int:
        return _second_of_day(self.from_)

    @property
    def ends_s(self) -> int:
        return _second_of_day(self.to)

    def left_s(self, utc_s: float) -> float:
        """Seconds of quiet that are left then; 0 outside."""
        now_s = (utc_s + self.utc_offset_s) % 86_400
        since_s = (now_s - self.begins_s) % 86_400
        length_s = (self.ends_s - self.begins_s) % 86_400
        return max(0.0, length_s - since_s)


def _second_of_day(text: str) -> int:
    match = re.fullmatch(r"([01]\d|2[0-3]):([0-5]\d)", text)
    if match is None:
        raise ValueError(f'expected a time of day such as "22:00"; found "{text}"')
    return int(match[1]) * 3600 + int(match[2]) * 60


class InputTable(Table, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Keys that every [[input]] has; each kind in inputs/ adds its own address key."""

    table: ClassVar[str] = "input"

    name: str
    expect: tuple[Literal["position", "heading", "depth", "wind", "ais", "radar"], ...] = ()

    def worker(self) -> InputWorker:
        """A new worker for this wire; nothing is opened before it runs."""
        raise NotImplementedError

    def worker_with(self, secret: SecretReader) -> InputWorker:
        """The same for a kind that needs a secret; it is read anew at every connection."""
        return self.worker()


class OutletTable(Table, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Keys that every [[outlet]] has; each kind in outlets/ adds its own table key."""

    table: ClassVar[str] = "outlet"
    # 'edge' outlets are sent messages, 'level' outlets are shown the state. Where a machine
    # reads (a log), every transition is told; a person is told what to act on.
    sort: ClassVar[Literal["edge", "level"]] = "edge"
    shows: ClassVar[bool] = False  # an edge kind that is shown the state as well (MQTT)
    reader: ClassVar[Literal["person", "machine"]] = "person"

    name: str
    from_priority: PriorityLabel = "caution"
    quiet_hours: QuietHours | None = None  # people only

    def __post_init__(self) -> None:
        if self.quiet_hours is not None and (self.sort != "edge" or self.reader != "person"):
            raise ValueError(
                "quiet_hours are for outlets that a person carries; nothing quiets what sounds "
                "aboard, and a log is never told less"
            )

    def open(self, secret: SecretReader) -> LevelOutlet | EdgeOutlet:
        """The outlet at work. Raises OSError or ValueError, told without secrets, when it
        cannot be; no network is needed to open one."""
        raise NotImplementedError

    def open_shown(self, secret: SecretReader, aboard: Aboard) -> LevelOutlet:
        """The part that is shown the state, for kinds that are part of the boat's systems."""
        outlet: Any = self.open(secret)  # sort says that it is a level outlet
        return cast("LevelOutlet", outlet)


class Orders(msgspec.Struct, frozen=True, kw_only=True):
    """Everything an orders file says, typed and complete with defaults."""

    vessel: Vessel
    rules: tuple[RuleOrders, ...]
    inputs: tuple[InputTable, ...] = ()
    outlets: tuple[OutletTable, ...] = ()
    call_list: tuple[CallListEntry, ...] = ()
    recorder: Recorder | None = None
    extra: dict[str, Any] = {}
    path: str = ""
    text: str = ""  # the file as read, for the recording's header
