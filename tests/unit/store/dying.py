"""A process whose children open the store and commit, each killed one operation later than the
one before; the last one lives. Each works on a copy of its own: FOLDER/NUMBER. Prints the last."""

from __future__ import annotations

import itertools
import os
import shutil
import sys
from pathlib import Path

from shipkeeper.store import Store

from ...faults.disk import count_anew
from .writer import batch


def main() -> None:
    folder, commit = Path(sys.argv[1]), int(sys.argv[2])
    for number in itertools.count(1):
        copy = folder / str(number)
        shutil.copytree(folder / "state", copy)
        child = os.fork()
        if not child:
            count_anew(number)
            store = Store.open(copy / "shipkeeper.db")
            store.commit(batch(commit), 1000.0 + commit)
            os._exit(0)
        _, status = os.waitpid(child, 0)
        if not os.WIFSIGNALED(status):
            sys.stdout.write(f"{number} {status}")
            return


if __name__ == "__main__":
    main()
