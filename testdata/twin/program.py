"""Stage 6: the program, which applies steps at its frames or at their delivery."""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING, Iterator, NamedTuple

from case import Fate
from delivery import Delivery, Movement, Press
from instants import Doorbell, Process, Stage, Tick, listed_frames, ticks
from output import Line, Standing

if TYPE_CHECKING:
    from path import Path


class Step(NamedTuple):
    """One increment that the program applies."""

    direction: int
    coarse: bool
    cause: str


class Move(NamedTuple):
    """A position of an axis that the program applies."""

    direction: int
    position: int
    cause: str


class Program:
    """Stage 6. What the program applies, and when."""

    def __init__(self, path: Path) -> None:
        self.path, self.program = path, path.case.program
        self.bell = Doorbell(path.env, Stage.PROGRAM)
        self.hold = self.program.hold
        self.heeds_repeats = self.program.repeats == "apply" and self.hold is None
        self.received: list[Delivery | Movement] = []
        self.down: dict[Line, Press] = {}
        self.found: set[Line] = set()  # lines down at the frame before
        self.line_hold_due: dict[Line, int] = {}  # under `state`, where a hold is the line's
        self.pending: deque[Delivery] = deque()  # presses and repeats not yet applied
        self.standing = Standing(Fate.MERGED_AT_FRAME)
        self.position = path.axis_scale.start if path.axis_scale else None
        self.applied_position = self.position
        self.extra = {"repeat": 0, "hold": 0, "bounce": 0}

    def receive(self, delivered: Delivery | Movement) -> None:
        self.received.append(delivered)
        if self.program.sampling == "immediate":
            self.bell.ring(self.path.env.now)

    def run(self) -> Process:
        if self.program.sampling == "immediate":
            yield from self.run_immediate()
        else:
            yield from self.run_frames()

    # -- with frames

    def frames(self) -> Iterator[int]:
        program, start = self.program, self.path.start
        if program.frame_list_ns is not None:
            return listed_frames(start, program.frame_phase_ns, program.frame_list_ns)
        return ticks(start, program.frame_phase_ns, program.frame_ns)

    def run_frames(self) -> Process:
        for time in self.frames():
            yield Tick(self.path.env, time, Stage.PROGRAM)
            received, self.received = self.received, []
            for delivered in received:
                if isinstance(delivered, Movement):
                    self.position = delivered.position
                    for unit in delivered.units:
                        self.standing.add(unit)
                else:
                    self.note(delivered)
            self.apply_movement()
            if self.program.sampling == "state":
                self.sample_state(time)
            else:
                self.sample_events(time)

    def note(self, delivered: Delivery) -> None:
        """Takes note, at a frame, of one change since the frame before."""
        kind, press = delivered
        if kind == "press":
            self.down[press.line] = press
        elif kind == "release":
            press.released = True
            del self.down[press.line]
            if self.program.sampling == "state" and not press.framed:
                press.pulse.settle(Fate.FRAME_MISSED)
        if self.program.sampling == "events":
            if kind == "press" or kind == "repeat" and self.heeds_repeats:
                self.pending.append(delivered)

    def sample_state(self, time: int) -> None:
        for line, press in self.down.items():
            if not press.framed:
                press.framed = True
                if line in self.found:
                    press.pulse.settle(Fate.MERGED_AT_FRAME)
                else:
                    self.apply_press(press)
                    if self.hold is not None:
                        self.line_hold_due[line] = time + self.hold["delay_ns"]
            if self.hold is not None:
                while self.line_hold_due[line] <= time:
                    self.apply_extra(press.line, "hold")
                    self.line_hold_due[line] += self.hold["period_ns"]
        self.found = set(self.down)

    def sample_events(self, time: int) -> None:
        room = len(self.pending) if self.program.max_per_frame is None else self.program.max_per_frame
        for _ in range(min(room, len(self.pending))):
            self.apply_delivery(self.pending.popleft())
        if self.program.excess == "drop":
            for delivery in self.pending:
                if delivery.kind == "press":
                    delivery.press.pulse.settle(Fate.FRAME_MISSED)
            self.pending.clear()
        self.apply_holds(time)

    # -- without

    def run_immediate(self) -> Process:
        while True:
            yield self.bell.wait()
            received, self.received = self.received, []
            for delivered in received:
                if isinstance(delivered, Movement):
                    self.position = delivered.position
                    self.standing.units = delivered.units
                    self.apply_movement()
                elif delivered.kind == "release":
                    delivered.press.released = True
                    del self.down[delivered.press.line]
                elif delivered.kind == "press":
                    self.down[delivered.press.line] = delivered.press
                    self.apply_delivery(delivered)
                elif self.heeds_repeats:
                    self.apply_delivery(delivered)
            # Only now: a step of the hold comes strictly before the release.
            self.apply_holds(self.path.env.now)

    # -- what is applied

    def apply_delivery(self, delivery: Delivery) -> None:
        """A press or a repeat, under `events` or `immediate`."""
        press = delivery.press
        if delivery.kind == "repeat":
            self.apply_extra(press.line, "repeat")
            return
        self.apply_press(press)
        if self.hold is not None and not press.released:
            press.hold_due = self.path.env.now + self.hold["delay_ns"]
            self.wake_for(press)

    def apply_holds(self, time: int) -> None:
        """The program's own repeat of the presses applied and still down."""
        for press in self.down.values():
            while press.hold_due is not None and press.hold_due <= time:
                self.apply_extra(press.line, "hold")
                press.hold_due += self.hold["period_ns"]
                self.wake_for(press)

    def wake_for(self, press: Press) -> None:
        if self.program.sampling == "immediate":
            self.bell.ring(press.hold_due)

    def apply_press(self, press: Press) -> None:
        press.pulse.settle(Fate.DELIVERED)
        if press.pulse.cause == "bounce":
            self.apply_extra(press.line, "bounce")
        else:
            self.apply(Step(press.line.direction, press.line.coarse, "detent"))

    def apply_extra(self, line: Line, cause: str) -> None:
        self.extra[cause] += 1
        self.apply(Step(line.direction, line.coarse, cause))

    def apply(self, applied: Step | Move) -> None:
        self.path.gain.take(applied)

    def apply_movement(self) -> None:
        """The relative counts or the axis movement that stand, in full."""
        units = self.standing.take()
        for unit in units:
            unit.count.reach(Fate.DELIVERED)
        if self.path.axis_scale is None:
            for unit in units:
                if unit.count.owner is None:
                    self.apply_extra(Line(unit.direction, False), "bounce")
                else:
                    self.apply(Step(unit.direction, False, "detent"))
        elif units:
            assert self.position - self.applied_position == sum(unit.direction for unit in units)
            self.applied_position = self.position
            counts = {id(unit.count): unit.count for unit in units}.values()
            ownerless = sum(count.owner is None for count in counts)
            self.extra["bounce"] += ownerless
            cause = "bounce" if ownerless == len(counts) else "detent"
            self.apply(Move(units[0].direction, self.position, cause))

    @property
    def idle(self) -> bool:
        return not (self.received or self.down or self.found or self.pending or self.standing.units)
