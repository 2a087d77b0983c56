"""Time, and the order of events at one instant, as SimPy priorities."""

from __future__ import annotations

from enum import IntEnum
from typing import Any, Generator, Iterator

import simpy

Process = Generator[simpy.Event, Any, None]


class Stage(IntEnum):
    """The stages in the order in which they run at one instant.

    The numbers are SimPy priorities; SimPy's own (0 urgent, 1 normal) stay
    below them, so a process that was woken runs before the next stage does.
    """

    KNOB = 11
    SCAN = 12
    OUTPUT = 13
    USB = 14
    SYSTEM = 15
    PROGRAM = 16
    GAIN = 17
    VALUE = 18


class Tick(simpy.Event):
    """An event at a given time, in its stage's place among those of the instant."""

    def __init__(self, env: simpy.Environment, time: int, stage: Stage) -> None:
        super().__init__(env)
        if time < env.now:
            raise ValueError(f"{stage.name} at {time}, before now, {env.now}")
        self._ok = True
        self._value = None
        env.schedule(self, priority=stage, delay=time - env.now)


class Doorbell:
    """Wakes one stage's process, at its stage's place in the instant.

    Two rings for one instant may wake it twice; a stage does everything that
    is due when it wakes, so the second finds nothing left to do.
    """

    def __init__(self, env: simpy.Environment, stage: Stage) -> None:
        self.env, self.stage = env, stage
        self.rung = env.event()

    def ring(self, time: int) -> None:
        Tick(self.env, time, self.stage).callbacks.append(self._strike)

    def _strike(self, _: simpy.Event) -> None:
        if not self.rung.triggered:
            self.rung.succeed()

    def wait(self) -> simpy.Event:
        self.rung = self.env.event()
        return self.rung


def ticks(start: int, phase: int, period: int) -> Iterator[int]:
    """The times phase + k*period from start on, for whole k of either sign."""
    if period <= 0:
        raise ValueError("a period must be positive")
    time = phase - (phase - start) // period * period
    while True:
        yield time
        time += period


def listed_frames(start: int, phase: int, gaps: list[int]) -> Iterator[int]:
    """Frame 0 at phase, frame k+1 comes gaps[k mod n] after frame k, both ways."""
    if sum(gaps) <= 0 or min(gaps) < 0:
        raise ValueError("a frame list must take time")
    time, k = phase + (start - phase) // sum(gaps) * sum(gaps), 0
    while True:
        if time >= start:
            yield time
        time += gaps[k % len(gaps)]
        k += 1
