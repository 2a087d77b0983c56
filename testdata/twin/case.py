"""The case that the twin is asked about: a rig, a scale and the detents turned.

Keys that a case leaves out have the defaults of interface.md, with the phases
at 0 and everything optional absent.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum
from typing import Any

MILLISECOND = 1_000_000


class Fate(IntEnum):
    """Where a detent can end, nearest first: the furthest wins."""

    ILLEGAL = 0
    QUEUE_DROPPED = 1
    CLEARED = 2
    CLIPPED = 3
    POLL_MISSED = 4
    MERGED_AT_POLL = 5
    FRAME_MISSED = 6
    MERGED_AT_FRAME = 7
    DELIVERED = 8

    @property
    def spelled(self) -> str:
        if self in (Fate.MERGED_AT_POLL, Fate.MERGED_AT_FRAME):
            return "merged"
        return self.name.lower().replace("_", "-")


DEFAULTS: dict[str, dict[str, Any]] = {
    "knob": {"detents": 24, "cycles": 24, "min_state_thousandths": 250},
    "firmware": {
        "scan_ns": MILLISECOND, "scan_phase_ns": 0, "debounce": 4, "decoder": "table",
        "counts_per_detent": 1, "output": "buttons", "pulse_ns": 30 * MILLISECOND,
        "gap_ns": 30 * MILLISECOND, "queue": 8, "overflow": "drop-new", "reversal": "keep",
        "hold_ns": None, "coarse": None, "axis": None, "gain_m": 1,
    },
    "usb": {"poll_ns": 8 * MILLISECOND, "poll_phase_ns": 0, "reports": "state"},
    "system": {"latency_ns": MILLISECOND, "repeat": None},
    "program": {
        "sampling": "state", "frame_ns": 33_333_333, "frame_phase_ns": 0, "frame_list_ns": None,
        "max_per_frame": None, "excess": "carry", "repeats": "apply", "hold": None, "gain": 1,
    },
    "display": {"latency_ns": 50 * MILLISECOND},
    "scale": {"low": 0, "count": 0, "wrap": False, "start": 0},
}

CHOICES: dict[tuple[str, str], tuple[str, ...]] = {
    ("firmware", "decoder"): ("table", "edge"),
    ("firmware", "output"): ("buttons", "keys", "relative", "axis"),
    ("firmware", "overflow"): ("drop-new", "drop-old"),
    ("firmware", "reversal"): ("keep", "clear"),
    ("usb", "reports"): ("state", "queued"),
    ("program", "sampling"): ("state", "events", "immediate"),
    ("program", "excess"): ("carry", "drop"),
    ("program", "repeats"): ("apply", "ignore"),
}


class Section(dict):
    """One section of a case; its keys read as attributes."""

    def __getattr__(self, key: str) -> Any:
        try:
            return self[key]
        except KeyError:
            raise AttributeError(key) from None


def section(name: str, given: dict[str, Any]) -> Section:
    unknown = set(given) - set(DEFAULTS[name])
    if unknown:
        raise ValueError(f"{name}: unknown keys {sorted(unknown)}")
    filled = Section(DEFAULTS[name] | given)
    for (owner, key), choices in CHOICES.items():
        if owner == name and filled[key] not in choices:
            raise ValueError(f"{name}.{key}: {filled[key]!r} is none of {choices}")
    return filled


@dataclass(slots=True, eq=False)
class Detent:
    """One click of the knob (on a smooth knob, one quarter step)."""

    index: int
    time: int
    direction: int
    counts: int = 0  # the counts that belong to it
    fate: Fate = Fate.ILLEGAL

    def reach(self, fate: Fate) -> None:
        self.fate = max(self.fate, fate)


class Case:
    """A rig, a scale and the detents turned."""

    def __init__(self, case: dict[str, Any]) -> None:
        rig = case.get("rig", {})
        unknown = (set(case) - {"rig", "scale", "detents"}) | (set(rig) - set(DEFAULTS) | set(rig) & {"scale"})
        if unknown:
            raise ValueError(f"unknown keys {sorted(unknown)}")
        self.knob = section("knob", rig.get("knob", {}))
        self.firmware = section("firmware", rig.get("firmware", {}))
        self.usb = section("usb", rig.get("usb", {}))
        self.system = section("system", rig.get("system", {}))
        self.program = section("program", rig.get("program", {}))
        self.display = section("display", rig.get("display", {}))
        self.scale = section("scale", case.get("scale", {}))
        self.detents = [Detent(i, t, d) for i, (t, d) in enumerate(case.get("detents", []))]
        if any(b.time <= a.time for a, b in zip(self.detents, self.detents[1:])):
            raise ValueError("detents: the times must increase strictly")
        if any(detent.direction not in (-1, 1) for detent in self.detents):
            raise ValueError("detents: a direction is 1 or -1")
        if any(repeat and repeat["period_ns"] <= 0 for repeat in (self.system.repeat, self.program.hold)):
            raise ValueError("a repeat needs a positive period")
        if self.program.max_per_frame is not None and self.program.max_per_frame < 1:
            raise ValueError("program.max_per_frame must be at least 1, or the path never empties")
        if not self.pulses and self.firmware.hold_ns is not None:
            raise ValueError("firmware.hold_ns belongs to buttons and keys")
        if self.firmware.output == "axis" and (self.firmware.axis is None or self.scale.count < 2):
            raise ValueError("an axis needs its bits and a range of at least two values")

    @property
    def edges_per_detent(self) -> int:
        """E of stage 1."""
        if self.knob.detents is None:
            return 1
        edges, rest = divmod(4 * self.knob.cycles, self.knob.detents)
        if rest or edges < 1:
            raise ValueError("knob: 4*cycles/detents must be whole and at least 1")
        return edges

    @property
    def pulses(self) -> bool:
        """Whether the output has lines that are pressed and released."""
        return self.firmware.output in ("buttons", "keys")

    @property
    def holds(self) -> bool:
        """Whether the firmware holds its lines instead of pulsing them."""
        return self.firmware.hold_ns is not None
