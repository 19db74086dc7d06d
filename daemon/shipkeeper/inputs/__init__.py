"""The wires in: one file a kind, one registry line each."""

from __future__ import annotations

from ..words.orders import InputTable
from .gpsd import GpsdInput
from .recording import RecordingInput
from .serial import SerialInput
from .signalk import SignalKInput
from .tcp import TcpInput
from .udp import UdpInput

INPUTS: tuple[type[InputTable], ...] = (
    SerialInput,
    TcpInput,
    UdpInput,
    RecordingInput,
    GpsdInput,
    SignalKInput,
)
