"""A process of its own that commits until it is killed, and says what it has committed."""

from __future__ import annotations

import sys
from pathlib import Path

from shipkeeper.store import Store
from shipkeeper.words.effects import Effect, Record, Remember, Send

from ...peers.messages import message, record, transition


def batch(number: int) -> list[Effect]:
    """One alert changes, one message must go out, the watch is remembered."""
    alert = record(number % 7, revision=number)
    return [
        Record(at_s=1000.0 + number, transition=transition(alert, text=str(number)), alert=alert),
        Send(message=message(number, id=f"m{number}")),
        Remember(key="watch", value=str(number).encode()),
    ]


def main() -> None:
    store = Store.open(Path(sys.argv[1]))
    end = int(sys.argv[3]) if len(sys.argv) > 3 else 1_000_000
    for number in range(int(sys.argv[2]), end):
        store.commit(batch(number), 1000.0 + number)
        sys.stdout.write(f"{number}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
