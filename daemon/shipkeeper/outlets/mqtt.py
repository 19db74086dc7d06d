"""MQTT: the state, retained, for whoever subscribes late; every event once; commands in.

The state is shown and heals itself: after each connection all of it is sent again, and what
an earlier run left behind is taken away. Availability has a last will, so a boat that is lost
is seen to be offline. Events go through the outbox over a connection of their own. Commands
must be signed and are none without a list of keys.
"""

from __future__ import annotations

import threading
import time
from typing import TYPE_CHECKING, Any, ClassVar, Literal

from ..words.effects import Message, Show, Wanted
from ..words.orders import OutletTable
from ..words.timing import utc_text
from ..words.wires import Aboard, DeliveryFailed, EdgeOutlet, LevelOutlet, SecretReader
from . import mqtt_client, mqtt_words
from .link import Link
from .mqtt_client import Mqtt
from .mqtt_commands import Commands
from .mqtt_discovery import discovery

if TYPE_CHECKING:
    from paho.mqtt.client import Client, MQTTMessage

WITHIN_S = 8.0  # for one event, its connection included
ONLINE, OFFLINE = "online", "offline"


class MqttOutlet(OutletTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An [[outlet]] with `mqtt`."""

    kind: ClassVar[str] = "mqtt"
    reader: ClassVar[Literal["person", "machine"]] = "machine"
    shows: ClassVar[bool] = True

    mqtt: Mqtt

    def problems(self) -> list[tuple[str, str]]:
        return self.mqtt.faults()

    def secret_files(self) -> dict[str, str]:
        named = {
            "mqtt.password": self.mqtt.password,
            "mqtt.command_secrets": self.mqtt.command_secrets,
        }
        return {key: name for key, name in named.items() if name}

    def open(self, secret: SecretReader) -> EdgeOutlet:
        return MqttEvents(self.mqtt, secret)

    def open_shown(self, secret: SecretReader, aboard: Aboard) -> LevelOutlet:
        return MqttState(self.mqtt, secret, aboard)


class MqttState:
    """LevelOutlet of words.wires: one connection, held by paho's own thread."""

    def __init__(self, orders: Mqtt, secret: SecretReader, aboard: Aboard) -> None:
        self._orders, self._vessel = orders, aboard.vessel
        boat = orders.boat
        self.topics = mqtt_words.Topics(orders.base.strip("/"), boat)
        self._link = Link(f"the broker at {orders.address}")
        self._lock = threading.Lock()
        self._all = True  # everything is to be sent again
        self._online = False
        self._kept: set[str] = set()  # alert topics that the broker keeps of us
        self._sent: dict[str, tuple[object, ...]] = {}
        self._refreshed_s = float("-inf")
        self._watch_marks: tuple[object, ...] = ()
        self._commands: Commands | None = None
        if orders.command_secrets:
            self._commands = Commands(
                secret, orders.command_secrets, boat, aboard.obey, self._answer
            )
        self._client = mqtt_client.client(orders, secret, f"{boat}-state")
        self._client.will_set(self.topics.of("availability"), OFFLINE, qos=1, retain=True)
        self._client.on_connect = self._connected
        self._client.on_disconnect = self._disconnected
        self._client.on_connect_fail = self._unreached
        self._client.on_message = self._heard
        mqtt_client.start(self._client, orders)

    # -- the outlet's thread -------------------------------------------------------------------

    def show(self, wanted: Wanted, state: Show) -> None:
        """Before the engine's first word nothing is known, so nothing is said."""
        if not state.at or not self._client.is_connected():
            return
        with self._lock:
            everything, self._all = self._all, False
        if everything:
            self._sent.clear()
            self._discover()
        self._alerts(state)
        self._watch(state, everything)
        if everything or not self._online:
            self._publish(self.topics.of("availability"), ONLINE)
            self._online = True

    def link(self) -> tuple[bool, str] | None:
        return self._link.stands()

    def close(self) -> None:
        """A watch that is stopped says itself that it is gone."""
        if self._client.is_connected():
            self._publish(self.topics.of("availability"), OFFLINE)
            edge_s = time.monotonic() + 0.5
            while self._client.want_write() and time.monotonic() < edge_s:
                time.sleep(0.01)
        if self._commands is not None:
            self._commands.close()
        self._client.disconnect()
        self._client.loop_stop()

    # -- what is published -----------------------------------------------------------------------

    def _alerts(self, state: Show) -> None:
        sent, boat = now(), self.topics.boat
        standing = {self.topics.alert(record.id): record for record in state.alerts}
        for topic, record in standing.items():
            marks = (record.revision, record.state, record.priority, record.level, record.group)
            if self._sent.get(topic) != marks:
                self._sent[topic] = marks
                self._publish(topic, mqtt_words.alert(record, boat, state.at, sent))
        with self._lock:
            gone = (self._kept | set(self._sent)) - set(standing)
            self._kept = set(standing)
        for topic in gone:
            self._sent.pop(topic, None)
            body = mqtt_words.over(topic.rpartition("/")[2], boat, state.at, sent)
            self._publish(topic, body, retain=False)
            self._publish(topic, None)

    def _watch(self, state: Show, everything: bool) -> None:
        body = mqtt_words.watch(
            state, self.topics.boat, self._vessel, now(), self._orders.refresh_s
        )
        topic = self.topics.of("watch")
        marks = tuple(value for key, value in body.items() if key not in ("at", "sent"))
        late = time.monotonic() - self._refreshed_s >= self._orders.refresh_s
        if everything or late or self._watch_marks != marks:
            self._publish(topic, body)
            self._refreshed_s, self._watch_marks = time.monotonic(), marks

    def _discover(self) -> None:
        if self._orders.discovery:
            found = discovery(
                self._orders.discovery.strip("/"),
                self.topics,
                self._vessel,
                self._orders.refresh_s,
            )
            for topic, body in found.items():
                self._publish(topic, body)

    def _publish(self, topic: str, body: Any, *, retain: bool = True) -> None:
        payload = mqtt_words.encoded(body) if isinstance(body, dict) else body
        self._client.publish(topic, payload, qos=1, retain=retain)

    def _answer(self, body: dict[str, Any]) -> None:
        self._publish(self.topics.of("reply"), body, retain=False)

    # -- paho's thread ---------------------------------------------------------------------------

    def _connected(self, client: Client, data: Any, flags: Any, code: Any, more: Any) -> None:
        if code.is_failure:
            self._link.set(False, mqtt_client.why(code))
            return
        with self._lock:
            self._all = True
        client.subscribe([(self.topics.of("alert", "+"), 1), (self.topics.of("command"), 1)])
        self._link.set(True)

    def _disconnected(self, client: Client, data: Any, flags: Any, code: Any, more: Any) -> None:
        self._online = False
        self._link.set(False, "the connection ended")

    def _unreached(self, client: Client, data: Any) -> None:
        self._link.set(False, "does not answer")

    def _heard(self, client: Client, data: Any, message: MQTTMessage) -> None:
        """Own alerts that the broker keeps; and commands."""
        if message.topic == self.topics.of("command"):
            if self._commands is not None and not message.retain:
                self._commands.take(bytes(message.payload))
        elif message.retain and message.payload:
            with self._lock:
                self._kept.add(message.topic)


class MqttEvents:
    """EdgeOutlet of words.wires: connects when there is something to send, and stays."""

    def __init__(self, orders: Mqtt, secret: SecretReader, within_s: float = WITHIN_S) -> None:
        self._orders, self._secret, self._boat = orders, secret, orders.boat
        self._within_s = within_s
        self._client: Client | None = None
        self._met = threading.Event()
        self._why = "no answer in time"

    def deliver(self, message: Message) -> None:
        edge_s = time.monotonic() + self._within_s
        client = self._client or self._connect()
        if not self._met.wait(max(0.0, edge_s - time.monotonic())):
            self.close()
            raise DeliveryFailed(f"mqtt: {self._orders.address}: {self._why}")
        base = self._orders.base.strip("/")
        topic = mqtt_words.Topics(base, self._boat).of("event")
        late_s = max(0.0, round(time.time() - message.at_s, 1))
        body = mqtt_words.event(message, self._boat, now(), late_s)
        try:
            info = client.publish(topic, mqtt_words.encoded(body), qos=1)
            info.wait_for_publish(max(0.0, edge_s - time.monotonic()))
            if info.is_published():
                return
        except (RuntimeError, ValueError):
            pass
        self.close()
        raise DeliveryFailed(f"mqtt: {self._orders.address} took nothing in time")

    def close(self) -> None:
        client, self._client = self._client, None
        self._met.clear()
        if client is not None:
            client.disconnect()
            client.loop_stop()

    def _connect(self) -> Client:
        try:
            client = mqtt_client.client(self._orders, self._secret, f"{self._boat}-events")
        except (OSError, ValueError) as error:
            raise DeliveryFailed(f"mqtt: {getattr(error, 'strerror', None) or error}") from None
        client.connect_timeout = min(mqtt_client.CONNECT_S, self._within_s)
        client.on_connect = self._connected
        client.on_disconnect = self._disconnected
        mqtt_client.start(client, self._orders)
        self._client = client
        return client

    def _connected(self, client: Client, data: Any, flags: Any, code: Any, more: Any) -> None:
        if code.is_failure:
            self._why = mqtt_client.why(code)
        else:
            self._met.set()

    def _disconnected(self, client: Client, data: Any, flags: Any, code: Any, more: Any) -> None:
        self._met.clear()


def now() -> str:
    """UTC as this computer knows it, a label only."""
    return utc_text(time.time())
