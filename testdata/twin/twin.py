#!/usr/bin/python3
"""The signal path of a detented rotary encoder a second time, on SimPy.

This is the slow, obviously right twin: it was written from model.md section 1
and from nothing else, and it walks every scan, every poll and every frame.
Each stage of the path is one SimPy process. Time is a whole number of
nanoseconds. Events at one instant run in the order of the stages, upstream
first, because every event of a stage is scheduled with that stage's number as
its SimPy priority.

It models deterministic rigs only (no bounce, no jitter, fixed phases) and
constant gains. README.md gives the form of a case and of an answer, and every
place where model.md had to be interpreted.

    python3 twin.py            JSON lines in, JSON lines out, one case a line
    python3 twin.py --bench N  N detents of the demo's button-pulse rig
"""

from __future__ import annotations

import json
import sys
import time as wall
from typing import Any

from case import MILLISECOND
from path import answer


def bench(detents: int) -> dict[str, Any]:
    """Times the demo's button-pulse rig: 24 detents at 24 detents/s, then 2 s rest."""
    interval, rest = round(1e9 / 24), 2_000 * MILLISECOND
    turned, time = [], 0
    for k in range(detents):
        time += rest if k and k % 24 == 0 else interval
        turned.append([time, 1])
    begun = wall.perf_counter()
    account = answer({"detents": turned})["account"]
    seconds = wall.perf_counter() - begun
    return {"detents": detents, "delivered": account["delivered"], "seconds": round(seconds, 6),
            "detents_per_s": round(detents / seconds, 1)}


def main(arguments: list[str]) -> int:
    if len(arguments) == 2 and arguments[0] == "--bench" and arguments[1].isdigit():
        print(json.dumps(bench(int(arguments[1]))))
        return 0
    if arguments:
        print(__doc__, file=sys.stderr)
        return 2
    for line in sys.stdin:
        if not line.strip():
            continue
        try:
            result = answer(json.loads(line))
        except (ValueError, KeyError, TypeError) as fault:
            result = {"error": f"{type(fault).__name__}: {fault}"}
        print(json.dumps(result), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
