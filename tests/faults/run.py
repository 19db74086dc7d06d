"""All faults on ptys and on sockets, with what each took: python -m tests.faults.run [WORD]

WORD: only faults with it in their names. Ends with 1 when something did not go as the table
says. Takes about a minute; the short form is test_faults.py.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from tests.faults.rig import Kind, Rig, faults


def main(word: str) -> int:
    wrong = done = 0
    kinds: tuple[Kind, ...] = ("sockets", "ptys")
    for kind in kinds:
        for boat in ("one", "two"):
            mine = [f for f in faults() if f.boat == boat and word in f.name]
            if not mine:
                continue
            with tempfile.TemporaryDirectory() as folder:
                rig = Rig(Path(folder), kind, boat)
                rig.start()
                try:
                    for fault in mine:
                        began_s = time.monotonic()
                        found = rig.play(fault)
                        took_s = time.monotonic() - began_s
                        print(f"{kind:8} {took_s:5.1f} s  {'GOOD ' if not found else 'WRONG'} "
                              f"{fault.name}")  # fmt: skip
                        for line in found:
                            print(f"                   {line}")
                        wrong, done = wrong + bool(found), done + 1
                finally:
                    rig.close()
    print(f"{done} faults played, {wrong} not as the table says")
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1] if len(sys.argv) > 1 else ""))
