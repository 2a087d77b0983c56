"""The stages put together: one SimPy process each, run until the path is empty."""

from __future__ import annotations

from typing import Any, Optional

import simpy

from case import Case, Fate
from contacts import Knob, Scan, edges_of
from delivery import System, Usb
from output import AxisOutput, AxisScale, HeldOutput, PulseOutput, RelativeOutput
from program import Program
from value import Gain, Value


class Path:
    """The stages put together; it runs until it is empty."""

    def __init__(self, case: Case) -> None:
        self.case = case
        edges = edges_of(case.detents, case.edges_per_detent, case.knob.min_state_thousandths)
        # The first detent's edges may come before 0; all is at rest before them.
        self.start = min([0, *(edge.time for edge in edges[:1])])
        self.env = simpy.Environment(initial_time=self.start)
        axis = case.firmware.output == "axis"
        self.axis_scale = AxisScale(case.firmware.axis["bits"], case.scale) if axis else None

        self.knob = Knob(self, edges)
        self.scan = Scan(self)
        self.output = self._output()
        self.usb = Usb(self)
        self.system = System(self)
        self.program = Program(self)
        self.gain = Gain(self)
        self.value = Value(self)
        self.stages = (self.knob, self.scan, self.output, self.usb, self.system, self.program, self.gain, self.value)
        for stage in self.stages:
            self.env.process(stage.run())

    def _output(self) -> PulseOutput | HeldOutput | RelativeOutput | AxisOutput:
        if self.case.holds:
            return HeldOutput(self)
        return {"relative": RelativeOutput, "axis": AxisOutput}.get(self.case.firmware.output, PulseOutput)(self)

    def run(self) -> dict[str, Any]:
        while not all(stage.idle for stage in self.stages):
            self.env.step()
        return {"steps": self.value.steps, "fates": self.fates(), "account": self.account()}

    def fates(self) -> Optional[list[str]]:
        return None if self.case.holds else [detent.fate.spelled for detent in self.case.detents]

    def account(self) -> dict[str, Any]:
        detents = len(self.case.detents)
        illegal_transitions = self.scan.illegal_transitions
        if self.case.holds:
            return {"detents": detents, "illegal_transitions": illegal_transitions,
                    "presses": self.output.presses, "held_ns": self.output.held, "steps": len(self.value.steps)}
        fates = self.fates()
        ends = ("delivered", "merged", "queue-dropped", "cleared", "illegal", "poll-missed", "frame-missed", "clipped")
        pulses = self.output.asked if self.case.pulses else []
        assert all(pulse.fate is not None for pulse in pulses), "the path is not empty"
        return {
            "detents": detents,
            **{end.replace("-", "_"): fates.count(end) for end in ends},
            "pulses": len(pulses),
            "pulses_lost": sum(pulse.fate is not Fate.DELIVERED for pulse in pulses),
            "illegal_transitions": illegal_transitions,
            "extra_steps": dict(self.program.extra),
        }


def answer(case: dict[str, Any]) -> dict[str, Any]:
    """The answer to one case."""
    return Path(Case(case)).run()
