"""Signals: end on TERM and INT, new orders on HUP. A bad orders file changes nothing."""

from __future__ import annotations

import signal
import threading
from pathlib import Path
from types import FrameType

from ..orders import BadOrders, load
from .inbox import Inbox
from .kinds import KINDS
from .log import log
from .standing_orders import first_problem


class Signals:
    """Handlers only start a thread: a handler may not wait for the inbox's lock."""

    def __init__(self, inbox: Inbox, orders_path: Path) -> None:
        self.reload = False
        self._inbox, self._orders_path = inbox, orders_path

    def take(self) -> None:
        """From now on these signals are ours; on the main thread."""
        if threading.current_thread() is not threading.main_thread():
            return  # a daemon within a test
        signal.signal(signal.SIGTERM, self._end)
        signal.signal(signal.SIGINT, self._end)
        signal.signal(signal.SIGHUP, self._new_orders)

    def _end(self, number: int, frame: FrameType | None) -> None:
        threading.Thread(target=self._inbox.close, daemon=True).start()

    def _new_orders(self, number: int, frame: FrameType | None) -> None:
        threading.Thread(target=self._look_at_orders, daemon=True).start()

    def _look_at_orders(self) -> None:
        try:
            load(self._orders_path, KINDS)
        except BadOrders as bad:
            log(str(bad))
            self._inbox.worker_news("orders", False, f"not taken: {first_problem(bad)}")
            return
        self.reload = True
        self._inbox.close()
