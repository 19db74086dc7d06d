"""Discovery messages for home automation, as the open MQTT discovery convention has them.

PREFIX/COMPONENT/BOAT/OBJECT/config, retained: where the state is and what it means. Off
unless the orders name the prefix that your home automation listens on.
"""

from __future__ import annotations

from typing import Any

from .mqtt_words import Topics

# (component, object, name, template, further keys)
ENTITIES: tuple[tuple[str, str, str, str, dict[str, Any]], ...] = (
    (
        "binary_sensor",
        "trouble",
        "Alert stands",
        "{{ 'ON' if value_json.trouble else 'OFF' }}",
        {"device_class": "problem"},
    ),
    (
        "binary_sensor",
        "watching",
        "Watch is kept",
        "{{ 'ON' if value_json.watching else 'OFF' }}",
        {"device_class": "running"},
    ),
    ("sensor", "watch", "Watch", "{{ value_json.watch }}", {}),
    ("sensor", "worst", "Worst alert", "{{ value_json.worst }}", {}),
    ("sensor", "title", "What", "{{ value_json.title }}", {}),
    (
        "sensor",
        "unacknowledged",
        "Alerts unacknowledged",
        "{{ value_json.unacknowledged }}",
        {"state_class": "measurement"},
    ),
)


def discovery(
    prefix: str, topics: Topics, vessel: str, every_s: float
) -> dict[str, dict[str, Any]]:
    """Topic -> body of every entity of this boat."""
    device = {"identifiers": [f"shipkeeper-{topics.boat}"], "name": vessel}
    return {
        f"{prefix}/{component}/{topics.boat}/{thing}/config": {
            "name": name,
            "unique_id": f"shipkeeper-{topics.boat}-{thing}",
            "object_id": f"{topics.boat}_{thing}",
            "state_topic": topics.of("watch"),
            "value_template": template,
            "availability_topic": topics.of("availability"),
            "payload_available": "online",
            "payload_not_available": "offline",
            # A watch that has stopped keeps no old state on a wall.
            "expire_after": round(3 * every_s),
            "device": device,
            **further,
        }
        for component, thing, name, template, further in ENTITIES
    }
