"""The mirror: what would be remembered if we fell now, folded from the engine's effects.

The header of a new recording and a reload of the orders begin from it, without asking the
store. On the main thread only.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from ..words.alert import AlertRecord, State
from ..words.effects import Effect, Keep, Record, Remember
from ..words.remembered import Remembered


class Mirror:
    """Alerts that are not normal and the named state, as the store has or will have them."""

    def __init__(self, remembered: Remembered) -> None:
        self._alerts = {alert.id: alert for alert in remembered.alerts}
        self._state = dict(remembered.state)
        self._next_number = remembered.next_number

    def fold(self, effects: Iterable[Effect]) -> None:
        for effect in effects:
            if isinstance(effect, Record | Keep):
                self._alert(effect.alert)
            elif isinstance(effect, Remember):
                if effect.value is None:
                    self._state.pop(effect.key, None)
                else:
                    self._state[effect.key] = effect.value

    def remembered(self, last_alive_s: float | None) -> Remembered:
        """As the store would hand it to the next run."""
        return Remembered(
            alerts=tuple(self._alerts.values()),
            state=dict(self._state),
            last_alive_s=last_alive_s,
            next_number=self._next_number,
        )

    def _alert(self, alert: AlertRecord) -> None:
        self._next_number = max(self._next_number, alert.number + 1)
        if alert.state is State.NORMAL and alert.condition == "false":
            self._alerts.pop(alert.id, None)
        else:
            # The engine may go on changing its record; the mirror keeps how it stood.
            self._alerts[alert.id] = msgspec.structs.replace(alert)
