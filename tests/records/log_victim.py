"""A process that writes a log until it is killed, and tells what was acknowledged.

python log_victim.py LOG LIFE: every line it prints is ``notes samples``: notes 1..notes and
samples 0..samples-1 of channel LIFE are committed.  It ends by itself after 30 s.
"""

from __future__ import annotations

import sys
import threading
import time
from pathlib import Path

from kiosk.interlock.decision import Note
from kiosk.records.writer import Writer

ENDS_S = 30.0


def main() -> None:
    path, life = Path(sys.argv[1]), sys.argv[2]
    writer = Writer(path, life)
    writer.start()
    begin_s, pace, told = time.monotonic(), threading.Event(), ""
    for k in range(int(ENDS_S * 1000)):
        writer.sample(life, begin_s + k / 1000, k * 0.01)
        if k % 5 == 0:
            writer.note(Note("state", life, {"k": k // 5 + 1}), time.monotonic(), "")
        newest_s = writer.acknowledged_s.get(life)
        samples = 0 if newest_s is None else round((newest_s - begin_s) * 1000) + 1
        line = f"{writer.acknowledged} {samples}"
        if line != told:
            print(line, flush=True)
            told = line
        pace.wait(0.001)


if __name__ == "__main__":
    main()
