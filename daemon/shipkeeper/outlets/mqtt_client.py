"""A client of an MQTT broker (paho), with the orders' address, login and trust."""

from __future__ import annotations

import ssl
from typing import TYPE_CHECKING, Annotated, Any

import msgspec
from msgspec import field

from ..words.address import bad_address, host_port
from ..words.orders import Quantity
from ..words.wires import SecretReader
from .mqtt_words import level
from .plain import one_line

if TYPE_CHECKING:
    from paho.mqtt.client import Client

KEEPALIVE_S = 20
CONNECT_S = 5.0
RETRY_S = (1, 15)


class Mqtt(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`mqtt = { address = "host:port", boat = "curlew", user = "curlew", password = "..." }`."""

    address: str
    boat: str  # second level of every topic: one's own in a fleet
    user: str = ""
    password: str = ""  # the secret's name
    tls: bool = False
    ca: str = ""  # a file with the authority to trust instead of the system's
    base: str = "shipkeeper"  # first level of every topic
    discovery: str = ""  # prefix of discovery messages; none when left out
    refresh_s: Annotated[float, Quantity("time", 1.0, 600.0)] = field(default=30.0, name="refresh")
    command_secrets: str = ""  # the secret: a list of keys that may sign; no commands without

    def faults(self) -> list[tuple[str, str]]:
        """(key, what is wrong)."""
        found = bad_address("mqtt.address", self.address)
        if level(self.boat) != self.boat:
            said = "expected letters, digits, dot, dash or underscore"
            found.append(("mqtt.boat", f'{said}; found "{one_line(self.boat)}"'))
        for key in ("base", "discovery"):
            text = getattr(self, key)
            if one_line(text) != text or any(c in text for c in "+#$"):
                said = "expected a topic without + # $"
                found.append((f"mqtt.{key}", f'{said}; found "{one_line(text)}"'))
        if not self.base.strip("/"):
            found.append(("mqtt.base", "expected the first level of the topics"))
        if self.password and not self.user:
            found.append(("mqtt.user", "a password needs a user"))
        if self.ca and not self.tls:
            found.append(("mqtt.tls", "an authority is named but tls is not on"))
        return found


def client(orders: Mqtt, secret: SecretReader, name: str) -> Client:
    """Not connected yet. Raises OSError or ValueError, told without secrets."""
    try:
        from paho.mqtt.client import Client
        from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
    except ImportError:
        raise OSError("mqtt needs the extra: pip install 'shipkeeper[mqtt]'") from None
    made = Client(
        CallbackAPIVersion.VERSION2, client_id=name, protocol=MQTTProtocolVersion.MQTTv311
    )
    made.connect_timeout = CONNECT_S
    made.reconnect_delay_set(*RETRY_S)
    if orders.user:
        made.username_pw_set(orders.user, secret(orders.password) if orders.password else None)
    if orders.tls:
        made.tls_set_context(ssl.create_default_context(cafile=orders.ca or None))
    return made


def start(made: Client, orders: Mqtt) -> None:
    """Connect in a thread of its own, again and again; nothing is waited for."""
    host, port = host_port(orders.address)
    made.connect_async(host, port, keepalive=KEEPALIVE_S)
    made.loop_start()


def why(code: Any) -> str:
    """A reason code of the broker, in words."""
    return one_line(str(code)).lower()
