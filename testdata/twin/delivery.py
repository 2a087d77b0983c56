"""Stages 4 and 5: USB polls, and the operating system's latency and key repeat."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple, Optional

from case import Fate
from instants import Doorbell, Process, Stage, Tick, ticks
from output import Change, Line, Pulse, Unit

if TYPE_CHECKING:
    from path import Path


class Movement(NamedTuple):
    """What a poll carries of a relative sum or an axis."""

    units: list[Unit]
    position: Optional[int]


class Usb:
    """Stage 4. The polls, and what each of them carries."""

    def __init__(self, path: Path) -> None:
        self.path, self.usb = path, path.case.usb
        self.queued: deque[Change] = deque()  # under `queued` reports
        self.found: dict[Line, Pulse] = {}  # lines down at the poll before: `state`

    def changed(self, change: Change) -> None:
        """A line changed in the firmware (at this instant, before any poll)."""
        if self.usb.reports == "queued":
            self.queued.append(change)
        elif not change.pressed and not change.pulse.polled:
            change.pulse.settle(Fate.POLL_MISSED)

    def run(self) -> Process:
        if not self.path.case.pulses:
            poll = self.poll_movement
        elif self.usb.reports == "queued":
            poll = self.poll_queue
        else:
            poll = self.poll_state
        for time in ticks(self.path.start, self.usb.poll_phase_ns, self.usb.poll_ns):
            yield Tick(self.path.env, time, Stage.USB)
            carried = poll()
            if carried:
                self.path.system.carry(carried)

    def poll_state(self) -> list[Change]:
        down = self.path.output.down
        released = [Change(False, line, pulse) for line, pulse in self.found.items() if line not in down]
        pressed = []
        for line, pulse in down.items():
            if pulse.polled:
                continue
            pulse.polled = True
            if line in self.found:
                pulse.settle(Fate.MERGED_AT_POLL)
            else:
                pressed.append(Change(True, line, pulse))
        self.found = dict(down)
        return released + pressed

    def poll_queue(self) -> list[Change]:
        return [self.queued.popleft()] if self.queued else []

    def poll_movement(self) -> list[Movement]:
        units = self.path.output.standing.take()
        return [Movement(units, self.path.output.position)] if units else []

    @property
    def idle(self) -> bool:
        return not self.queued and not self.found


@dataclass(slots=True, eq=False)
class Press:
    """A press as the operating system delivers it."""

    line: Line
    pulse: Pulse
    released: bool = False
    framed: bool = False  # a frame has found it down
    hold_due: Optional[int] = None  # when the program's own repeat is due next


class Delivery(NamedTuple):
    """What reaches the program: "press", "release" or "repeat" of a press."""

    kind: str
    press: Press


class System:
    """Stage 5. A constant latency, and key repeat."""

    def __init__(self, path: Path) -> None:
        self.path, self.system = path, path.case.system
        self.bell = Doorbell(path.env, Stage.SYSTEM)
        self.in_flight: deque[tuple[int, Change | Movement]] = deque()  # with the time due
        self.down: dict[Line, Press] = {}
        self.repeat = self.system.repeat if path.case.firmware.output == "keys" else None
        self.repeating: Optional[Press] = None
        self.repeat_due = 0

    def carry(self, carried: list[Change] | list[Movement]) -> None:
        due = self.path.env.now + self.system.latency_ns
        self.in_flight.extend((due, one) for one in carried)
        self.bell.ring(due)

    def run(self) -> Process:
        while True:
            yield self.bell.wait()
            now = self.path.env.now
            while self.in_flight and self.in_flight[0][0] <= now:
                self.deliver(self.in_flight.popleft()[1])
            # Only now: a repeat comes strictly before the change that stops it.
            if self.repeating is not None and self.repeat_due <= now:
                self.path.program.receive(Delivery("repeat", self.repeating))
                self.plan_repeat(self.repeat_due + self.repeat["period_ns"])

    def deliver(self, carried: Change | Movement) -> None:
        if isinstance(carried, Movement):
            self.path.program.receive(carried)
        elif carried.pressed:
            press = self.down[carried.line] = Press(carried.line, carried.pulse)
            self.repeating = None
            if self.repeat is not None:
                self.repeating = press
                self.plan_repeat(self.path.env.now + self.repeat["delay_ns"])
            self.path.program.receive(Delivery("press", press))
        else:
            press = self.down.pop(carried.line)
            if self.repeating is press:
                self.repeating = None
            self.path.program.receive(Delivery("release", press))

    def plan_repeat(self, due: int) -> None:
        self.repeat_due = due
        self.bell.ring(due)

    @property
    def idle(self) -> bool:
        return not self.in_flight and not self.down
