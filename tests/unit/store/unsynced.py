"""A process of its own whose disk writes one commit and then cannot sync it, and is well again.

Prints why commits failed. DISK_STALL and DISK_FAIL name the files that tests/faults/shim.c reads.
"""

from __future__ import annotations

import errno
import os
import sys
import threading
import time
from pathlib import Path

from shipkeeper.store import Store, StoreFailed

from .writer import batch

STALL, FAIL = (Path(os.environ[name]) for name in ("DISK_STALL", "DISK_FAIL"))


def main() -> None:
    store = Store.open(Path(sys.argv[1]))
    store.commit(batch(0), 1000.0)
    STALL.write_text("0.6")
    broken = threading.Thread(target=_breaks)
    broken.start()
    held = batch(1)
    for number in range(2, 10):  # tried again, with what came meanwhile, as the keeper does
        try:
            store.commit(held, 1000.0 + number)
            break
        except StoreFailed as failed:
            sys.stdout.write(f"{failed}\n")
        broken.join()
        STALL.unlink(missing_ok=True)
        if number == 2:
            held += batch(2)
        else:
            FAIL.unlink(missing_ok=True)
    store.close()


def _breaks() -> None:
    time.sleep(0.3)
    part = FAIL.with_suffix(".part")
    part.write_text(str(errno.EIO))
    part.rename(FAIL)


if __name__ == "__main__":
    main()
