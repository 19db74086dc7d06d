"""The ways out: one file a kind, one registry line each."""

from __future__ import annotations

from ..words.orders import OutletTable
from .buzzer import BuzzerOutlet
from .heartbeat import HeartbeatOutlet
from .lamp import LampOutlet
from .mqtt import MqttOutlet
from .nmea import NmeaOutlet
from .push import PushOutlet
from .signalk import SignalKOutlet
from .syslog import SyslogOutlet
from .terminal import TerminalOutlet

OUTLETS: tuple[type[OutletTable], ...] = (
    BuzzerOutlet,
    TerminalOutlet,
    LampOutlet,
    PushOutlet,
    SyslogOutlet,
    NmeaOutlet,
    MqttOutlet,
    SignalKOutlet,
    HeartbeatOutlet,
)
