"""Stage 3: the firmware output, from counts to lines, sums and positions."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple, Optional

from case import Fate, Section
from contacts import Count
from instants import Doorbell, Process, Stage

if TYPE_CHECKING:
    from path import Path


class Line(NamedTuple):
    """One output line: a button or a key."""

    direction: int
    coarse: bool


@dataclass(slots=True, eq=False)
class Pulse:
    """One press and release of a line. Without a count it is a held line's press."""

    line: Line
    count: Optional[Count]
    polled: bool = False  # a poll has found it down
    fate: Optional[Fate] = None

    def settle(self, fate: Fate) -> None:
        assert self.fate is None, "a pulse has one fate"
        self.fate = fate
        if self.count is not None:
            self.count.reach(fate)

    @property
    def cause(self) -> str:
        return "bounce" if self.count is not None and self.count.owner is None else "detent"


class Change(NamedTuple):
    """A line that was pressed (by this pulse) or released."""

    pressed: bool
    line: Line
    pulse: Pulse


class PulseOutput:
    """Stage 3, `buttons` and `keys`: every count becomes m pulses, one at a time."""

    def __init__(self, path: Path) -> None:
        self.path, self.firmware = path, path.case.firmware
        self.bell = Doorbell(path.env, Stage.OUTPUT)
        self.arriving: list[Count] = []
        self.waiting: deque[Pulse] = deque()
        self.in_progress: Optional[Pulse] = None
        self.release_at = 0
        self.may_start_at: Optional[int] = None  # none before the first start
        self.down: dict[Line, Pulse] = {}
        self.asked: list[Pulse] = []

    def arrive(self, count: Count) -> None:
        self.arriving.append(count)
        self.bell.ring(self.path.env.now)

    def run(self) -> Process:
        while True:
            yield self.bell.wait()
            now = self.path.env.now
            if self.in_progress is not None and now >= self.release_at:
                self.release()
            if self.waiting and self.may_start(now):
                self.start(self.waiting.popleft())
            arriving, self.arriving = self.arriving, []
            for count in arriving:
                for _ in range(self.firmware.gain_m):
                    self.take(Pulse(Line(count.direction, count.coarse), count))

    def may_start(self, now: int) -> bool:
        return self.in_progress is None and (self.may_start_at is None or now >= self.may_start_at)

    def take(self, pulse: Pulse) -> None:
        """An arriving pulse starts, waits, or is refused."""
        self.asked.append(pulse)
        firmware = self.firmware
        if firmware.reversal == "clear" and any(w.line.direction != pulse.line.direction for w in self.waiting):
            for thrown in self.waiting:
                thrown.settle(Fate.CLEARED)
            self.waiting.clear()
        if not self.waiting and self.may_start(self.path.env.now):
            self.start(pulse)
        elif len(self.waiting) < firmware.queue:
            self.waiting.append(pulse)
        elif firmware.overflow == "drop-old" and self.waiting:
            self.waiting.popleft().settle(Fate.QUEUE_DROPPED)
            self.waiting.append(pulse)
        else:
            pulse.settle(Fate.QUEUE_DROPPED)

    def start(self, pulse: Pulse) -> None:
        now = self.path.env.now
        self.in_progress = pulse
        self.release_at = now + self.firmware.pulse_ns
        self.may_start_at = now + self.firmware.pulse_ns + self.firmware.gap_ns
        self.bell.ring(self.release_at)
        self.bell.ring(self.may_start_at)
        self.down[pulse.line] = pulse
        self.path.usb.changed(Change(True, pulse.line, pulse))

    def release(self) -> None:
        pulse, self.in_progress = self.in_progress, None
        del self.down[pulse.line]
        self.path.usb.changed(Change(False, pulse.line, pulse))

    @property
    def idle(self) -> bool:
        return self.in_progress is None and not self.waiting and not self.arriving


class HeldOutput:
    """Stage 3, `hold: T`: a line stays down while its direction is turned."""

    def __init__(self, path: Path) -> None:
        self.path, self.hold = path, path.case.firmware.hold_ns
        self.bell = Doorbell(path.env, Stage.OUTPUT)
        self.arriving: list[Count] = []
        self.down: dict[Line, Pulse] = {}
        self.pressed_at = 0
        self.release_at = 0
        self.presses = 0
        self.held = 0

    def arrive(self, count: Count) -> None:
        self.arriving.append(count)
        self.bell.ring(self.path.env.now)

    def run(self) -> Process:
        while True:
            yield self.bell.wait()
            now = self.path.env.now
            arriving, self.arriving = self.arriving, []
            for count in arriving:  # first: a count at the deadline keeps the line down
                line = Line(count.direction, False)
                if self.down and line not in self.down:
                    self.release()
                if not self.down:
                    self.press(line)
                self.release_at = now + self.hold
                self.bell.ring(self.release_at)
            if self.down and now >= self.release_at:
                self.release()

    def press(self, line: Line) -> None:
        self.presses += 1
        self.pressed_at = self.path.env.now
        self.down[line] = Pulse(line, None)
        self.path.usb.changed(Change(True, line, self.down[line]))

    def release(self) -> None:
        line, pulse = self.down.popitem()
        self.held += self.path.env.now - self.pressed_at
        self.path.usb.changed(Change(False, line, pulse))

    @property
    def idle(self) -> bool:
        return not self.down and not self.arriving


class Unit(NamedTuple):
    """One unit of a relative sum or of an axis position, and its count."""

    direction: int
    count: Count


@dataclass(slots=True, eq=False)
class Standing:
    """The units that still stand: an opposite one cancels with the newest."""

    cancelled: Fate  # the fate of both units where two cancel here
    units: list[Unit] = field(default_factory=list)

    def add(self, unit: Unit) -> None:
        if self.units and self.units[-1].direction != unit.direction:
            self.units.pop().count.reach(self.cancelled)
            unit.count.reach(self.cancelled)
        else:
            self.units.append(unit)

    def take(self) -> list[Unit]:
        taken, self.units = self.units, []
        return taken


class RelativeOutput:
    """Stage 3, `relative`: counts add up until the next poll."""

    def __init__(self, path: Path) -> None:
        self.path, self.firmware = path, path.case.firmware
        self.bell = Doorbell(path.env, Stage.OUTPUT)
        self.arriving: list[Count] = []
        self.standing = Standing(Fate.MERGED_AT_POLL)
        self.position: Optional[int] = None  # only an axis has one

    def arrive(self, count: Count) -> None:
        self.arriving.append(count)
        self.bell.ring(self.path.env.now)

    def run(self) -> Process:
        while True:
            yield self.bell.wait()
            arriving, self.arriving = self.arriving, []
            for count in arriving:
                self.move(count)

    def move(self, count: Count) -> None:
        for _ in range(self.firmware.gain_m):
            self.standing.add(Unit(count.direction, count))

    @property
    def idle(self) -> bool:
        return not self.arriving and not self.standing.units


class AxisOutput(RelativeOutput):
    """Stage 3, `axis`: counts move an absolute position between its ends."""

    def __init__(self, path: Path) -> None:
        super().__init__(path)
        self.position = path.axis_scale.start

    def move(self, count: Count) -> None:
        left = self.path.axis_scale.top - self.position if count.direction > 0 else self.position
        moved = min(self.firmware.axis["counts_per_detent"], left)
        if moved == 0:
            count.reach(Fate.CLIPPED)
        self.position += count.direction * moved
        for _ in range(moved):
            self.standing.add(Unit(count.direction, count))


class AxisScale:
    """How positions of an axis and values of the range belong together."""

    def __init__(self, bits: int, scale: Section) -> None:
        self.top = 2**bits - 1
        self.span = scale.count - 1
        self.start = self._share(scale.start, self.top, self.span)

    def value(self, position: int) -> int:
        """The value at a position, in steps above the start of the range."""
        return self._share(position, self.span, self.top)

    @staticmethod
    def _share(part: int, whole: int, of: int) -> int:
        """round(part * whole / of), halves up."""
        return (2 * part * whole + of) // (2 * of)
