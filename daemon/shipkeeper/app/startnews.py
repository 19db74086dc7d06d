"""News at the start: what stood of the watch's own parts, and is well now.

Alerts about a dead thread, a refused orders file or a damaged store outlive a restart as all
alerts do. Their cause may be gone with it, and nobody would say so but we.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..words.orders import Orders
from ..words.remembered import Remembered
from .inbox import Inbox

FORGOTTEN = "if a watch was set it is forgotten, set it again"
WORKER, OUTLET = "worker-", "outlet-"


def tell_start(
    inbox: Inbox,
    orders: Orders,
    remembered: Remembered,
    store_problems: Sequence[str],
    wrong_orders: str,
    *,
    blind: bool = False,
) -> None:
    """Puts the news into the inbox, before anything else is there. blind: the store could not
    be read at all."""
    stood = [
        record.subject.key.removeprefix("part:")
        for record in remembered.alerts
        if record.subject.kind == "part"
    ]
    outlets = {table.name for table in orders.outlets}
    for part in stood:
        if part.startswith(WORKER) and part != f"{WORKER}orders":
            inbox.worker_news(part.removeprefix(WORKER), True, "started afresh")
        elif part.startswith(OUTLET) and part.removeprefix(OUTLET) not in outlets:
            inbox.outlet_news(part.removeprefix(OUTLET), True, "not in the orders any more")
    for problem in store_problems:
        lost = (blind or bool(remembered.problems)) and "watch" not in remembered.state
        inbox.store_news(False, f"{FORGOTTEN}: {problem}" if lost else problem, lost=lost)
    if "store" in stood and not store_problems:
        inbox.store_news(True, "open")
    if wrong_orders or f"{WORKER}orders" in stood:
        inbox.worker_news("orders", not wrong_orders, wrong_orders or "good")
