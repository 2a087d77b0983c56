"""Stages 7 and 8: the gain, and the value that ends up on the screen."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

from instants import Doorbell, Process, Stage
from program import Move, Step

if TYPE_CHECKING:
    from path import Path


class TaskSteps(NamedTuple):
    """An applied step after its gain: how many task steps."""

    direction: int
    count: int
    cause: str


class Gain:
    """Stage 7. A constant number of task steps for each applied step.

    The coarse pair brings its own number, and an axis moves by position.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.bell = Doorbell(path.env, Stage.GAIN)
        self.arriving: list[Step | Move] = []

    def take(self, applied: Step | Move) -> None:
        self.arriving.append(applied)
        self.bell.ring(self.path.env.now)

    def run(self) -> Process:
        case = self.path.case
        while True:
            yield self.bell.wait()
            arriving, self.arriving = self.arriving, []
            for applied in arriving:
                if isinstance(applied, Step):
                    count = case.firmware.coarse["steps"] if applied.coarse else case.program.gain
                    self.path.value.take(TaskSteps(applied.direction, count, applied.cause))
                else:
                    self.path.value.take(applied)

    @property
    def idle(self) -> bool:
        return not self.arriving


class Value:
    """Stage 8. The number, in steps above the start of the range."""

    def __init__(self, path: Path) -> None:
        self.path, self.scale = path, path.case.scale
        self.bell = Doorbell(path.env, Stage.VALUE)
        self.arriving: list[TaskSteps | Move] = []
        self.value = self.scale.start
        self.steps: list[list[Any]] = []  # [time, direction, count, value, cause]

    def take(self, step: TaskSteps | Move) -> None:
        self.arriving.append(step)
        self.bell.ring(self.path.env.now)

    def run(self) -> Process:
        while True:
            yield self.bell.wait()
            arriving, self.arriving = self.arriving, []
            for step in arriving:
                if isinstance(step, Move):
                    before, self.value = self.value, self.path.axis_scale.value(step.position)
                    count = abs(self.value - before)
                else:
                    self.value = self.within(self.value + step.direction * step.count)
                    count = step.count
                self.steps.append([self.path.env.now, step.direction, count, self.value, step.cause])

    def within(self, value: int) -> int:
        if self.scale.count == 0:
            return value
        if self.scale.wrap:
            return value % self.scale.count
        return max(0, min(value, self.scale.count - 1))

    @property
    def idle(self) -> bool:
        return not self.arriving
