"""Stages 1 and 2: the knob's two contacts, and the firmware scan that decodes them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple, Optional

from case import MILLISECOND, Detent, Fate
from instants import Process, Stage, Tick, ticks

if TYPE_CHECKING:
    from path import Path

LONGEST_DETENT = 40 * MILLISECOND  # g of stage 1 is at most this
COARSE_REST = 400 * MILLISECOND  # an interval this long is a rest (coarse pair)


LEVELS = ((0, 0), (1, 0), (1, 1), (0, 1))  # AB, walked clockwise
QUARTER_STEP = {levels: position for position, levels in enumerate(LEVELS)}


class Edge(NamedTuple):
    time: int
    detent: Detent


def edges_of(detents: list[Detent], edges_per_detent: int, min_state_thousandths: int) -> list[Edge]:
    """When each detent's quarter steps come; the last one is the detent's time."""
    edges = []
    for before, detent in zip([None, *detents], detents):
        gap = LONGEST_DETENT if before is None else min(detent.time - before.time, LONGEST_DETENT)
        for j in range(1, edges_per_detent + 1):
            to_go = edges_per_detent - j
            thousandths = 1000 * to_go if to_go % 2 == 0 else 1000 * (to_go - 1) + 4 * min_state_thousandths
            edges.append(Edge(detent.time - thousandths * gap // (1000 * edges_per_detent), detent))
    return edges


@dataclass(slots=True, eq=False)
class Contact:
    """A or B: its true level, and how the firmware has read it so far."""

    level: int = 0
    newest: Optional[Detent] = None  # the detent of this contact's newest edge
    reading: int = 0
    equal: int = 0  # equal readings in a row, the last one included
    first: Optional[Detent] = None  # `newest` at the first of those equal readings
    accepted: int = 0

    def read(self, debounce: int) -> bool:
        """One reading; says whether the accepted level changed by it."""
        if self.level != self.reading:
            self.reading, self.equal, self.first = self.level, 0, self.newest
        self.equal += 1
        if self.reading == self.accepted or self.equal < debounce:
            return False
        self.accepted = self.reading
        return True


class Knob:
    """Stage 1. The contacts A and B, moved by the fingers."""

    def __init__(self, path: Path, edges: list[Edge]) -> None:
        self.path, self.edges = path, edges
        self.a, self.b = Contact(), Contact()
        self.made = 0

    def run(self) -> Process:
        position = 0
        for edge in self.edges:
            yield Tick(self.path.env, edge.time, Stage.KNOB)
            before = LEVELS[position % 4]
            position += edge.detent.direction
            after = LEVELS[position % 4]
            contact, level = (self.a, after[0]) if before[0] != after[0] else (self.b, after[1])
            contact.level, contact.newest = level, edge.detent
            self.made += 1

    @property
    def idle(self) -> bool:
        return self.made == len(self.edges)


@dataclass(slots=True, eq=False)
class Count:
    """What the decoder emits, and the detent that it belongs to."""

    direction: int
    owner: Optional[Detent]
    coarse: bool = False

    def reach(self, fate: Fate) -> None:
        if self.owner is not None:
            self.owner.reach(fate)


class Scan:
    """Stage 2. Reads the contacts, debounces, decodes."""

    def __init__(self, path: Path) -> None:
        self.path, self.case = path, path.case
        self.accumulated = 0
        self.illegal_transitions = 0
        self.last_emission: Optional[tuple[int, int]] = None  # its time and direction
        axis = self.case.firmware.output == "axis"
        self.counts_per_detent = 1 if axis or self.case.holds else self.case.firmware.counts_per_detent

    def run(self) -> Process:
        path, firmware = self.path, self.case.firmware
        a, b = path.knob.a, path.knob.b
        decode = self.table if firmware.decoder == "table" else self.edge
        for time in ticks(path.start, firmware.scan_phase_ns, firmware.scan_ns):
            yield Tick(path.env, time, Stage.SCAN)
            before = a.accepted, b.accepted
            a_changed, b_changed = a.read(firmware.debounce), b.read(firmware.debounce)
            if a_changed or b_changed:
                decode(a, b, before, a_changed, b_changed)

    def table(self, a: Contact, b: Contact, before: tuple[int, int], a_changed: bool, b_changed: bool) -> None:
        if a_changed and b_changed:
            self.illegal_transitions += 1
            return
        moved = (QUARTER_STEP[a.accepted, b.accepted] - QUARTER_STEP[before]) % 4
        self.accumulated += 1 if moved == 1 else -1
        if abs(self.accumulated) == self.case.edges_per_detent:
            direction = 1 if self.accumulated > 0 else -1
            self.accumulated = 0
            self.emit(direction, (a if a_changed else b).first)

    def edge(self, a: Contact, b: Contact, before: tuple[int, int], a_changed: bool, b_changed: bool) -> None:
        if a_changed and a.accepted == 1:
            self.emit(1 if b.accepted == 0 else -1, a.first)

    def emit(self, direction: int, completed_by: Detent) -> None:
        now = self.path.env.now
        coarse = self.is_fast(now, direction)
        self.last_emission = now, direction
        for _ in range(self.counts_per_detent):
            owner = self.owner(direction, completed_by)
            if owner is not None:
                owner.counts += 1
            self.path.output.arrive(Count(direction, owner, coarse))

    def is_fast(self, now: int, direction: int) -> bool:
        """Whether the coarse pair takes the counts of this emission."""
        coarse = self.case.firmware.coarse
        if coarse is None or self.last_emission is None or self.last_emission[1] != direction:
            return False
        return now - self.last_emission[0] < min(coarse["above_period_ns"], COARSE_REST)

    def owner(self, direction: int, completed_by: Detent) -> Optional[Detent]:
        """The detent a count belongs to: the one that completed it, else the
        newest earlier one of the count's direction that lacks one, else none."""
        for index in range(completed_by.index, -1, -1):
            detent = self.case.detents[index]
            if detent.direction == direction and detent.counts < self.counts_per_detent:
                return detent
        return None

    @property
    def idle(self) -> bool:
        knob = self.path.knob
        return knob.a.accepted == knob.a.level and knob.b.accepted == knob.b.level
