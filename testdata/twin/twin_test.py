#!/usr/bin/python3
"""Worked cases: every expected time, value and fate below was computed by hand.

Times in the tests are in ms. Unless a test says otherwise: four edges a detent
(24/24), so that the first detent's edges come 30, 20, 10 and 0 ms before its
time; scan every ms without debounce, so that a count comes at the instant of
its detent; pulses of 20 ms every 40; polls every 4 ms; no latency; frames every
10 ms; all phases 0; no range; start 0.
"""

from __future__ import annotations

import json
import random
import subprocess
import sys
import unittest
from pathlib import Path as File
from typing import Any

sys.path.insert(0, str(File(__file__).parent))

from case import Case  # noqa: E402
from contacts import edges_of  # noqa: E402
from path import Path, answer  # noqa: E402

MS = 1_000_000


def ms(rig: Any) -> Any:
    """Turns every key that ends in _ms into ns."""
    if not isinstance(rig, dict):
        return rig
    scaled = {}
    for key, value in rig.items():
        if key.endswith("_ms"):
            numbers = [round(v * MS) for v in value] if isinstance(value, list) else round(value * MS)
            scaled[key[:-3] + "_ns"] = numbers
        else:
            scaled[key] = ms(value)
    return scaled


def case(detents: list[Any], *, knob: Any = None, firmware: Any = None, usb: Any = None, system: Any = None,
         program: Any = None, scale: Any = None) -> dict[str, Any]:
    """A case; a detent is its time in ms, negative numbers in pairs (t, dir)."""
    pairs = [d if isinstance(d, tuple) else (d, 1) for d in detents]
    return {
        "rig": ms({
            "knob": knob or {},
            "firmware": {"scan_ms": 1, "debounce": 1, "pulse_ms": 20, "gap_ms": 20, **(firmware or {})},
            "usb": {"poll_ms": 4, **(usb or {})},
            "system": {"latency_ms": 0, **(system or {})},
            "program": {"frame_ms": 10, **(program or {})},
        }),
        "scale": scale or {},
        "detents": [[round(t * MS), d] for t, d in pairs],
    }


class Worked(unittest.TestCase):
    def check(self, turned: dict[str, Any], steps: list[tuple], fates: Any = None, **account: Any) -> dict[str, Any]:
        """Compares steps as (ms, dir, count, value, cause) and fates, and the account where given."""
        got = answer(turned)
        self.assertEqual([tuple([s[0] / MS, *s[1:]]) for s in got["steps"]], steps)
        if fates is not None:
            self.assertEqual(got["fates"], fates)
        for key, value in account.items():
            self.assertEqual(got["account"][key], value, key)
        return got


IMMEDIATE = {"sampling": "immediate"}
EACH_MS = {"poll_ms": 1}


class KnobAndScan(Worked):
    def test_edges_are_spread_over_the_gap_and_floored(self) -> None:
        detents = Case(case([100, 112])).detents
        self.assertEqual([e.time / MS for e in edges_of(detents, 4, 250)], [70, 80, 90, 100, 103, 106, 109, 112])
        # E=8, a gap of 7 ns: floor(7*7/8)=6, 5, 4, 3, 2, 1, 0, 0
        detents = Case({"detents": [[50 * MS, 1], [50 * MS + 7, 1]]}).detents
        self.assertEqual([e.time - 50 * MS for e in edges_of(detents, 8, 250)][8:], [1, 2, 3, 4, 5, 6, 7, 7])

    def test_min_state_delays_the_odd_edges(self) -> None:
        # 0.1 of the cycle: 3 quarter steps to go become 2.4, 1 becomes 0.4.
        detents = Case(case([100, 112])).detents
        self.assertEqual([e.time / MS for e in edges_of(detents, 4, 100)], [76, 80, 96, 100, 104.8, 106, 110.8, 112])
        # E=1 has no shift; floored once: gap 7 ns, E=2, to go 0.6 of a quarter step: floor(0.6*7/2) = 2
        self.assertEqual([e.time / MS for e in edges_of(detents, 1, 100)], [100, 112])
        detents = Case({"detents": [[50 * MS, 1], [50 * MS + 7, 1]]}).detents
        self.assertEqual([e.time - 50 * MS for e in edges_of(detents, 2, 150)][2:], [5, 7])

    def test_one_detent_is_seen_at_its_own_instant_all_the_way_down(self) -> None:
        # edge, scan, press, poll, delivery and frame all at 100: upstream first.
        self.check(case([100]), [(100, 1, 1, 1, "detent")], ["delivered"],
                   detents=1, delivered=1, pulses=1, pulses_lost=0, illegal_transitions=0)

    def test_each_stage_adds_its_wait(self) -> None:
        # debounce 4: accepted at 103; poll 104; latency 1: 105; frame 110.
        self.check(case([100], firmware={"debounce": 4}, usb={"poll_ms": 8}, system={"latency_ms": 1}),
                   [(110, 1, 1, 1, "detent")], ["delivered"])

    def test_phases_are_the_time_of_one_tick_also_before_zero(self) -> None:
        # scans at 100.3 (phase 5.3 = 0.3 mod 1); polls 3 mod 4: 103; frames 7 mod 10: 107.
        self.check(case([100], firmware={"scan_phase_ms": 5.3}, usb={"poll_phase_ms": -1},
                        program={"frame_phase_ms": 1007}), [(107, 1, 1, 1, "detent")], ["delivered"])

    def test_a_reversal_counts_back(self) -> None:
        self.check(case([100, (200, -1)]), [(100, 1, 1, 1, "detent"), (200, -1, 1, 0, "detent")],
                   ["delivered", "delivered"])

    def test_two_edges_between_scans_are_illegal(self) -> None:
        # Edges every 10 ms from 70, scans every 20: 80, 100 ... 180 each see both bits changed.
        self.check(case([100, 140, 180], firmware={"scan_ms": 20}), [], ["illegal"] * 3,
                   illegal=3, illegal_transitions=6, pulses=0)

    def test_three_edges_between_scans_alias_backwards(self) -> None:
        # Scans at 70 (position 1), 100 (4), 130 (7), 160 (10), 190 (13), 220 (16) read AB
        # 10, 00, 01, 11, 10, 00: +1 and five times -1: one count of -1 at 220, completed by A's
        # edge at 210; it and all earlier detents were turned clockwise: no owner.
        got = self.check(case([100, 140, 180, 220], firmware={"scan_ms": 30, "scan_phase_ms": 10}),
                         [(220, -1, 1, -1, "bounce")], ["illegal"] * 4, pulses=1, pulses_lost=0, illegal_transitions=0)
        self.assertEqual(got["account"]["extra_steps"], {"repeat": 0, "hold": 0, "bounce": 1})

    def test_an_accumulator_waits_across_an_illegal_transition(self) -> None:
        # Scan every 20, phase 10: 70 (1), 90 (3) illegal, 110 (4): -> acc +1, +1 = 2: no count.
        self.check(case([100], firmware={"scan_ms": 20, "scan_phase_ms": 10}), [], ["illegal"],
                   illegal_transitions=1)

    def test_a_count_belongs_to_the_newest_edge_at_its_first_equal_reading(self) -> None:
        # Debounce 4. The second detent's edges: 101.5, 103, 104.5, 106. B falls at 100 but is up
        # again at 103: 100, 101, 102 are only three zeros. From 106 on it is 0: accepted at 109,
        # first reading 106, whose newest B edge is the second detent's. A's 3 ms are never accepted.
        # Pulse [109, 129): poll 112, frame 120.
        self.check(case([100, 106], firmware={"debounce": 4}), [(120, 1, 1, 1, "detent")],
                   ["illegal", "delivered"], illegal_transitions=0)

    def test_two_edges_a_detent(self) -> None:
        # 15 cycles, 30 detents: the knob rests at 11, then at 00.
        self.check(case([100, 140], knob={"detents": 30, "cycles": 15}, firmware={"pulse_ms": 10, "gap_ms": 10}),
                   [(100, 1, 1, 1, "detent"), (140, 1, 1, 2, "detent")], ["delivered"] * 2)

    def test_edge_decoder_sees_every_second_of_two_edge_detents(self) -> None:
        # A rises at 80, falls at 120, rises at 160: pulses [80, 100) and [160, 180).
        self.check(case([100, 140, 180], knob={"detents": 30, "cycles": 15}, firmware={"decoder": "edge"}),
                   [(80, 1, 1, 1, "detent"), (160, 1, 1, 2, "detent")], ["delivered", "illegal", "delivered"])

    def test_edge_decoder_counts_eight_edge_detents_twice(self) -> None:
        # Edges at 165, 170 ... 200; A rises at 165 and 185; the second count finds the detent served.
        # Pulse [165, 175): poll 168, frame 170. Pulse [185, 195): poll 188, frame 190.
        got = self.check(case([200], knob={"detents": 12, "cycles": 24},
                              firmware={"decoder": "edge", "pulse_ms": 10, "gap_ms": 5}),
                         [(170, 1, 1, 1, "detent"), (190, 1, 1, 2, "bounce")], ["delivered"], pulses=2)
        self.assertEqual(got["account"]["extra_steps"]["bounce"], 1)

    def test_a_count_of_the_other_direction_goes_to_an_earlier_detent_that_lacks_one(self) -> None:
        # Edge decoder, scans 70, 90, 110 ... The counter-clockwise detent walks 01 at 70, 11, 10 at 90,
        # 00: A is seen to rise at 90 with B down, a clockwise count without an owner. The clockwise
        # one (160, 170, 180, 190) is seen first at 170 as 11: a counter-clockwise count, whose edge
        # is the second detent's, so it goes to the first; the second has none.
        self.check(case([(100, -1), (190, 1)], firmware={"decoder": "edge", "scan_ms": 20, "scan_phase_ms": 10}),
                   [(100, 1, 1, 1, "bounce"), (180, -1, 1, 0, "detent")], ["delivered", "illegal"])

    def test_the_first_detents_edges_may_come_before_zero(self) -> None:
        # Edges at -20, -10, 0, 10: count at 10, poll 12, frame 20. The edge decoder counts at -20:
        # pulse [-20, 0), poll and frame -20.
        self.check(case([10]), [(20, 1, 1, 1, "detent")], ["delivered"])
        self.check(case([10], firmware={"decoder": "edge"}), [(-20, 1, 1, 1, "detent")], ["delivered"])

    def test_a_smooth_knobs_unit_is_the_quarter_step(self) -> None:
        smooth = {"detents": None, "cycles": 24}
        turned = [100, 110, 120, 130]
        self.check(case(turned, knob=smooth, firmware={"output": "relative"}),
                   [(100, 1, 1, 1, "detent"), (120, 1, 1, 2, "detent"), (120, 1, 1, 3, "detent"),
                    (140, 1, 1, 4, "detent")], ["delivered"] * 4)  # polls 100, 112, 120, 132
        self.check(case(turned, knob=smooth, firmware={"decoder": "edge"}), [(100, 1, 1, 1, "detent")],
                   ["delivered", "illegal", "illegal", "illegal"])

    def test_counts_per_detent_all_belong_to_the_detent(self) -> None:
        self.check(case([100], firmware={"counts_per_detent": 2}), [(100, 1, 1, 1, "detent"), (140, 1, 1, 2, "detent")],
                   ["delivered"], pulses=2, pulses_lost=0)


class Output(Worked):
    def test_queue(self) -> None:
        # 100 starts; 104 waits; 108 finds the one place taken.
        turned = [100, 104, 108]
        steps = [(100, 1, 1, 1, "detent"), (140, 1, 1, 2, "detent")]
        self.check(case(turned, firmware={"queue": 1}, program=IMMEDIATE), steps,
                   ["delivered", "delivered", "queue-dropped"], queue_dropped=1, pulses=3, pulses_lost=1)
        self.check(case(turned, firmware={"queue": 1, "overflow": "drop-old"}, program=IMMEDIATE), steps,
                   ["delivered", "queue-dropped", "delivered"])
        for overflow in ("drop-new", "drop-old"):
            self.check(case(turned, firmware={"queue": 0, "overflow": overflow}, program=IMMEDIATE), steps[:1],
                       ["delivered", "queue-dropped", "queue-dropped"])

    def test_a_pulse_in_the_gap_needs_a_place_and_one_at_its_end_does_not(self) -> None:
        # Pulse [100, 120), the line may start again at 140.
        self.check(case([100, 130, 140], firmware={"queue": 0}, program=IMMEDIATE),
                   [(100, 1, 1, 1, "detent"), (140, 1, 1, 2, "detent")], ["delivered", "queue-dropped", "delivered"])

    def test_the_next_waiting_pulse_starts_before_the_counts_of_the_instant(self) -> None:
        # At 140 the second starts and leaves its place to the third, which starts at 180.
        self.check(case([100, 110, 140], firmware={"queue": 1}, program=IMMEDIATE),
                   [(100, 1, 1, 1, "detent"), (140, 1, 1, 2, "detent"), (180, 1, 1, 3, "detent")], ["delivered"] * 3)

    def test_reversal_clears_what_waits_but_not_the_pulse_in_progress(self) -> None:
        turned = [100, 104, 108, (116, -1)]
        self.check(case(turned, firmware={"reversal": "clear"}, program=IMMEDIATE),
                   [(100, 1, 1, 1, "detent"), (140, -1, 1, 0, "detent")],
                   ["delivered", "cleared", "cleared", "delivered"], cleared=2, pulses=4, pulses_lost=2)
        self.check(case(turned, program=IMMEDIATE),
                   [(100, 1, 1, 1, "detent"), (140, 1, 1, 2, "detent"), (180, 1, 1, 3, "detent"),
                    (220, -1, 1, 2, "detent")], ["delivered"] * 4)

    def test_of_several_pulses_the_furthest_wins(self) -> None:
        # m = 3: one starts, one waits, one is refused.
        self.check(case([100], firmware={"gain_m": 3, "queue": 1}, program=IMMEDIATE),
                   [(100, 1, 1, 1, "detent"), (140, 1, 1, 2, "detent")], ["delivered"], pulses=3, pulses_lost=1)

    def test_coarse_pair(self) -> None:
        # Intervals 50 (coarse), 100 (not: 83 ms), reversal, 50 (coarse), reversal. Gain 3 is not for the coarse pair.
        coarse = {"above_period_ms": 83.333333, "steps": 10}
        turned = [100, 150, 250, (300, -1), (350, -1), 400]
        firmware = {"pulse_ms": 10, "gap_ms": 10, "coarse": coarse}
        self.check(case(turned, firmware=firmware, usb=EACH_MS, program={**IMMEDIATE, "gain": 3}),
                   [(100, 1, 3, 3, "detent"), (150, 1, 10, 13, "detent"), (250, 1, 3, 16, "detent"),
                    (300, -1, 3, 13, "detent"), (350, -1, 10, 3, "detent"), (400, 1, 3, 6, "detent")])

    def test_coarse_limits_are_strict(self) -> None:
        firmware = {"pulse_ms": 10, "gap_ms": 10, "coarse": {"above_period_ms": 1000, "steps": 10}}
        self.check(case([100, 500, 899], firmware=firmware, usb=EACH_MS, program=IMMEDIATE),
                   [(100, 1, 1, 1, "detent"), (500, 1, 1, 2, "detent"), (899, 1, 10, 12, "detent")])
        firmware["coarse"] = {"above_period_ms": 50, "steps": 10}
        self.check(case([100, 150, 199], firmware=firmware, usb=EACH_MS, program=IMMEDIATE),
                   [(100, 1, 1, 1, "detent"), (150, 1, 1, 2, "detent"), (199, 1, 10, 12, "detent")])

    def test_coarse_and_fine_share_one_pulse_at_a_time_but_not_a_line(self) -> None:
        # Pulses fine [100, 120) and coarse [122, 142); polls 107, 115, 123: other lines, no merging.
        firmware = {"gap_ms": 2, "coarse": {"above_period_ms": 50, "steps": 10}}
        self.check(case([100, 104], firmware=firmware, usb={"poll_ms": 8, "poll_phase_ms": 3}),
                   [(110, 1, 1, 1, "detent"), (130, 1, 10, 11, "detent")], ["delivered"] * 2)


class FirmwareHold(Worked):
    firmware = {"output": "keys", "hold_ms": 150}
    system = {"repeat": {"delay_ms": 100, "period_ms": 50}}

    def test_hold_lets_the_repeat_count(self) -> None:
        # Down [100, 350): repeats 200, 250, 300; the one at 350 is not before the release.
        got = self.check(case([100, 200], firmware=self.firmware, system=self.system, usb=EACH_MS, program=IMMEDIATE),
                         [(100, 1, 1, 1, "detent"), (200, 1, 1, 2, "repeat"), (250, 1, 1, 3, "repeat"),
                          (300, 1, 1, 4, "repeat")])
        self.assertIsNone(got["fates"])
        self.assertEqual(got["account"], {"detents": 2, "illegal_transitions": 0, "presses": 1,
                                          "held_ns": 250 * MS, "steps": 4})

    def test_a_count_at_the_deadline_keeps_it_down_and_a_reversal_lets_go(self) -> None:
        # Down [100, 300) thanks to the count at 250; the other line [300, 450).
        got = self.check(case([100, 250, (300, -1)], firmware=self.firmware, system=self.system, usb=EACH_MS,
                              program=IMMEDIATE),
                         [(100, 1, 1, 1, "detent"), (200, 1, 1, 2, "repeat"), (250, 1, 1, 3, "repeat"),
                          (300, -1, 1, 2, "detent"), (400, -1, 1, 1, "repeat")])
        self.assertEqual(got["account"]["presses"], 2)
        self.assertEqual(got["account"]["held_ns"], 350 * MS)

    def test_queued_releases_come_before_presses(self) -> None:
        # Changes: press 100; release and press at 300; release 450. Polls of 80 ms: 160 press, 320
        # release, 400 press, 480 release. Repeats 260, 310 and none from 400 to 480.
        self.check(case([100, 250, (300, -1)], firmware=self.firmware, system=self.system,
                        usb={"poll_ms": 80, "reports": "queued"}, program=IMMEDIATE),
                   [(160, 1, 1, 1, "detent"), (260, 1, 1, 2, "repeat"), (310, 1, 1, 3, "repeat"),
                    (400, -1, 1, 2, "detent")])


class RelativeAndAxis(Worked):
    def test_opposite_counts_cancel_at_a_poll(self) -> None:
        # All in the poll at 107: the third cancels the second, the newest that stands.
        self.check(case([97, 101, (105, -1)], firmware={"output": "relative"}, usb={"poll_ms": 20, "poll_phase_ms": 7},
                        program={"frame_ms": 20}),
                   [(120, 1, 1, 1, "detent")], ["delivered", "merged", "merged"], merged=2, pulses=0, pulses_lost=0)

    def test_opposite_counts_cancel_at_a_frame(self) -> None:
        # Polls 112 (+), 120 (+), 132 (-); one frame at 150.
        turned, relative = [110, 120, (130, -1)], {"output": "relative"}
        self.check(case(turned, firmware=relative, program={"frame_ms": 50}),
                   [(150, 1, 1, 1, "detent")], ["delivered", "merged", "merged"])
        self.check(case(turned, firmware=relative, program=IMMEDIATE),
                   [(112, 1, 1, 1, "detent"), (120, 1, 1, 2, "detent"), (132, -1, 1, 1, "detent")], ["delivered"] * 3)

    def test_a_sum_that_changes_sign(self) -> None:
        # + - -: the first two cancel, the third stands.
        self.check(case([110, (120, -1), (130, -1)], firmware={"output": "relative"}, program={"frame_ms": 50}),
                   [(150, -1, 1, -1, "detent")], ["merged", "merged", "delivered"])

    def test_gains_of_relative_units(self) -> None:
        # Firmware 2: two units; program 3: three task steps each.
        self.check(case([100], firmware={"output": "relative", "gain_m": 2}, program={"gain": 3}),
                   [(100, 1, 3, 3, "detent"), (100, 1, 3, 6, "detent")], ["delivered"], pulses=0)

    def test_ownerless_relative_units_are_extra(self) -> None:
        got = self.check(case([100, 140, 180, 220],
                              firmware={"output": "relative", "scan_ms": 30, "scan_phase_ms": 10, "gain_m": 2}),
                         [(220, -1, 1, -1, "bounce"), (220, -1, 1, -2, "bounce")], ["illegal"] * 4)
        self.assertEqual(got["account"]["extra_steps"]["bounce"], 2)

    def test_axis(self) -> None:
        # Positions 0..15 for values 0..30; start 15 = position 7.5, halves up 8. 8+3=11 shows 22, 14
        # shows 28, 15 (one unit of room) shows 30, no room, 12 shows 24.
        axis = {"bits": 4, "counts_per_detent": 3}
        self.check(case([100, 200, 300, 400, (500, -1)], firmware={"output": "axis", "axis": axis, "counts_per_detent": 4, "gain_m": 5},
                        program={"gain": 7}, scale={"count": 31, "start": 15}),
                   [(100, 1, 7, 22, "detent"), (200, 1, 6, 28, "detent"), (300, 1, 2, 30, "detent"),
                    (500, -1, 6, 24, "detent")],
                   ["delivered", "delivered", "delivered", "clipped", "delivered"], clipped=1, pulses=0)

    def test_axis_units_cancel_in_turn(self) -> None:
        # Position = value, 14: one unit up to the end, three down: the first of them cancels it.
        axis = {"bits": 4, "counts_per_detent": 3}
        turned = case([97, (101, -1)], firmware={"output": "axis", "axis": axis}, usb={"poll_ms": 20, "poll_phase_ms": 7},
                      program={"frame_ms": 20}, scale={"count": 16, "start": 14})
        self.check(turned, [(120, -1, 2, 12, "detent")], ["merged", "delivered"])
        # Up and down by the same way in one frame: nothing is applied, the start value stays.
        turned = case([97, (101, -1)], firmware={"output": "axis", "axis": axis}, program={"frame_ms": 40},
                      scale={"count": 31, "start": 15})
        self.check(turned, [], ["merged", "merged"])

    def test_an_axis_movement_that_does_not_change_the_value_is_delivered(self) -> None:
        # One of 255 units over three steps: round(3/255) = 0. Back at the start position, still 0.
        axis = {"bits": 8, "counts_per_detent": 1}
        self.check(case([100, (200, -1)], firmware={"output": "axis", "axis": axis}, scale={"count": 4}),
                   [(100, 1, 0, 0, "detent"), (200, -1, 0, 0, "detent")], ["delivered"] * 2)

    def test_an_axis_back_at_its_start_position_shows_that_positions_value(self) -> None:
        # 31 values on 15 units: start 15 is shown exactly, its position 8 shows 16 on the way back from 9 (18).
        axis = {"bits": 4, "counts_per_detent": 1}
        self.check(case([100, (200, -1)], firmware={"output": "axis", "axis": axis}, scale={"count": 31, "start": 15}),
                   [(100, 1, 3, 18, "detent"), (200, -1, 2, 16, "detent")], ["delivered"] * 2)

    def test_ownerless_axis_counts_are_extra_once_each(self) -> None:
        axis = {"bits": 4, "counts_per_detent": 3}
        got = self.check(case([100, 140, 180, 220], firmware={"output": "axis", "axis": axis, "scan_ms": 30, "scan_phase_ms": 10},
                              scale={"count": 16, "start": 10}), [(220, -1, 3, 7, "bounce")], ["illegal"] * 4)
        self.assertEqual(got["account"]["extra_steps"]["bounce"], 1)


class PollAndSystem(Worked):
    def test_poll_missed(self) -> None:
        # Pulses [101, 104) and [160, 163): polls at 96, 104 miss the first, the one at 160 sees the second.
        self.check(case([101, 160], firmware={"pulse_ms": 3}, usb={"poll_ms": 8}),
                   [(160, 1, 1, 1, "detent")], ["poll-missed", "delivered"], poll_missed=1, pulses_lost=1)

    def test_merged_at_a_poll(self) -> None:
        # Pulses [100, 120) and [122, 142); polls 107, 115, 123 all find the line down.
        self.check(case([100, 104], firmware={"gap_ms": 2}, usb={"poll_ms": 8, "poll_phase_ms": 3}),
                   [(110, 1, 1, 1, "detent")], ["delivered", "merged"], merged=1, pulses=2, pulses_lost=1)

    def test_what_merged_stays_merged_when_its_neighbour_is_missed_later(self) -> None:
        # As before, delivered as one press [107, 147): between the frames 100 and 150.
        self.check(case([100, 104], firmware={"gap_ms": 2}, usb={"poll_ms": 8, "poll_phase_ms": 3},
                        program={"frame_ms": 50}), [], ["frame-missed", "merged"])

    def test_queued_reports_lose_nothing_but_take_a_poll_each(self) -> None:
        # Press 100, release 101, press 104, release 105: polls 104, 112, 120, 128 carry one each.
        turned, firmware, usb = [100, 104], {"pulse_ms": 1, "gap_ms": 1}, {"poll_ms": 8, "reports": "queued"}
        self.check(case(turned, firmware=firmware, usb=usb, program=IMMEDIATE),
                   [(104, 1, 1, 1, "detent"), (120, 1, 1, 2, "detent")], ["delivered"] * 2)
        # Presses [104, 112) and [120, 128): frame 110 finds the first; frame 120 the second, and the
        # frame before it had found the line down.
        self.check(case(turned, firmware=firmware, usb=usb), [(110, 1, 1, 1, "detent")], ["delivered", "merged"])

    def test_short_gaps_turn_into_repeats(self) -> None:
        # Pulses [100, 200) and [202, 302); polls 3 mod 8: down at 107, 195, 203, up at 307. One press
        # of 200 ms: repeats at 257 and 297, seen by the frames at 260 and 300.
        firmware = {"output": "keys", "pulse_ms": 100, "gap_ms": 2}
        usb = {"poll_ms": 8, "poll_phase_ms": 3}
        system = {"repeat": {"delay_ms": 150, "period_ms": 40}}
        got = self.check(case([100, 104], firmware=firmware, usb=usb, system=system, program={"sampling": "events"}),
                         [(110, 1, 1, 1, "detent"), (260, 1, 1, 2, "repeat"), (300, 1, 1, 3, "repeat")],
                         ["delivered", "merged"])
        self.assertEqual(got["account"]["extra_steps"], {"repeat": 2, "hold": 0, "bounce": 0})
        for deaf in ({"sampling": "events", "repeats": "ignore"}, {"sampling": "state"}):
            self.check(case([100, 104], firmware=firmware, usb=usb, system=system, program=deaf),
                       [(110, 1, 1, 1, "detent")], ["delivered", "merged"])
        self.check(case([100, 104], firmware={**firmware, "output": "buttons"}, usb=usb, system=system,
                        program={"sampling": "events"}), [(110, 1, 1, 1, "detent")], ["delivered", "merged"])

    def test_a_repeat_due_at_the_release_does_not_come(self) -> None:
        # Down [100, 160) at polls of 4 ms: repeats due 130, 160.
        self.check(case([100], firmware={"output": "keys", "pulse_ms": 60}, program=IMMEDIATE,
                        system={"latency_ms": 3, "repeat": {"delay_ms": 30, "period_ms": 30}}),
                   [(103, 1, 1, 1, "detent"), (133, 1, 1, 2, "repeat")], ["delivered"])


class Frames(Worked):
    def test_frame_missed(self) -> None:
        # Presses [110, 130) (polls each ms) and [240, 260): frames at 100, 150, 200, 250.
        self.check(case([110, 240], usb=EACH_MS, program={"frame_ms": 50}),
                   [(250, 1, 1, 1, "detent")], ["frame-missed", "delivered"], frame_missed=1, pulses_lost=1)

    def test_merged_at_a_frame(self) -> None:
        # Presses [100, 120) and [125, 145): frames 100 and 130.
        self.check(case([100, 104], firmware={"gap_ms": 5}, usb=EACH_MS, program={"frame_ms": 30, "frame_phase_ms": 10}),
                   [(100, 1, 1, 1, "detent")], ["delivered", "merged"], merged=1)

    def test_frame_list_repeats_both_ways(self) -> None:
        # From 5: 15, 35, 65, 75, 95, 125. From 305 backwards: 275, 255, 245, 215, 195, 185, 155, 135, 125.
        events = {"sampling": "events", "frame_list_ms": [10, 20, 30]}
        self.check(case([100], program={**events, "frame_phase_ms": 5}), [(125, 1, 1, 1, "detent")])
        self.check(case([126], program={**events, "frame_phase_ms": 305}), [(135, 1, 1, 1, "detent")])
        self.check(case([200], program={**events, "frame_phase_ms": 305}), [(215, 1, 1, 1, "detent")])

    def test_max_per_frame_carries_or_drops_the_excess(self) -> None:
        # Presses at 101, 111 and 121 (back): all in the frame at 150.
        turned = [101, 111, (121, -1)]
        rig = dict(firmware={"pulse_ms": 5, "gap_ms": 5}, usb=EACH_MS)
        program = {"sampling": "events", "frame_ms": 50, "max_per_frame": 1}
        self.check(case(turned, **rig, program=program),
                   [(150, 1, 1, 1, "detent"), (200, 1, 1, 2, "detent"), (250, -1, 1, 1, "detent")], ["delivered"] * 3)
        self.check(case(turned, **rig, program={**program, "excess": "drop"}), [(150, 1, 1, 1, "detent")],
                   ["delivered", "frame-missed", "frame-missed"], frame_missed=2, pulses_lost=2)
        self.check(case(turned, **rig, program={"sampling": "events", "frame_ms": 50}),
                   [(150, 1, 1, 1, "detent"), (150, 1, 1, 2, "detent"), (150, -1, 1, 1, "detent")], ["delivered"] * 3)

    def test_repeats_take_their_place_in_max_per_frame(self) -> None:
        # Down [100, 160), frames of 40 ms: 120 the press; 160: repeats 130, 140, 150, one a frame.
        got = self.check(case([100], firmware={"output": "keys", "pulse_ms": 60}, usb=EACH_MS,
                              system={"repeat": {"delay_ms": 30, "period_ms": 10}},
                              program={"sampling": "events", "frame_ms": 40, "max_per_frame": 1}),
                         [(120, 1, 1, 1, "detent"), (160, 1, 1, 2, "repeat"), (200, 1, 1, 3, "repeat"),
                          (240, 1, 1, 4, "repeat")], ["delivered"])
        self.assertEqual(got["account"]["extra_steps"]["repeat"], 3)


class ProgramHold(Worked):
    rig = dict(firmware={"output": "keys", "pulse_ms": 100}, usb=EACH_MS,
               system={"repeat": {"delay_ms": 5, "period_ms": 5}})  # ignored beside the program's own repeat
    hold = {"delay_ms": 30, "period_ms": 20}

    def test_hold_repeats_until_the_release(self) -> None:
        # Down [100, 200): due 130, 150, 170, 190.
        steps = [(100, 1, 1, 1, "detent"), *((t, 1, 1, v, "hold") for t, v in ((130, 2), (150, 3), (170, 4), (190, 5)))]
        for sampling in ("state", "events", "immediate"):
            got = self.check(case([100], **self.rig, program={"sampling": sampling, "hold": self.hold}), steps, ["delivered"])
            self.assertEqual(got["account"]["extra_steps"], {"repeat": 0, "hold": 4, "bounce": 0})

    def test_a_frame_applies_every_step_due_outside_the_limit(self) -> None:
        # Frames of 25 ms: 150 applies 130 and 150, 175 applies 170, 200 finds the button up.
        for sampling in ({"sampling": "state"}, {"sampling": "events", "max_per_frame": 1}):
            self.check(case([100], **self.rig, program={**sampling, "frame_ms": 25, "hold": self.hold}),
                       [(100, 1, 1, 1, "detent"), (150, 1, 1, 2, "hold"), (150, 1, 1, 3, "hold"), (175, 1, 1, 4, "hold")])

    def test_a_step_due_at_the_release_does_not_come(self) -> None:
        for sampling in ("state", "events", "immediate"):
            self.check(case([100], **self.rig, program={"sampling": sampling, "hold": {"delay_ms": 100, "period_ms": 20}}),
                       [(100, 1, 1, 1, "detent")])

    def test_state_sampling_does_not_see_a_gap_between_frames(self) -> None:
        # Presses [100, 120), [125, 145), [150, 170); frames 100, 130, 160 all find the button down, so
        # the step due at 150 comes at 160. Under events each release ends its own hold.
        rig = dict(firmware={"gap_ms": 5}, usb=EACH_MS)
        program = {"frame_ms": 30, "frame_phase_ms": 10, "hold": {"delay_ms": 50, "period_ms": 30}}
        self.check(case([100, 104, 108], **rig, program=program),
                   [(100, 1, 1, 1, "detent"), (160, 1, 1, 2, "hold")], ["delivered", "merged", "merged"])
        self.check(case([100, 104, 108], **rig, program={**program, "sampling": "events"}),
                   [(100, 1, 1, 1, "detent"), (130, 1, 1, 2, "detent"), (160, 1, 1, 3, "detent")], ["delivered"] * 3)

    def test_a_carried_press_applied_after_its_release_does_not_hold(self) -> None:
        # Down [101, 106): the frame at 150 applies it when it is long up.
        program = {"sampling": "events", "frame_ms": 50, "max_per_frame": 1, "hold": {"delay_ms": 5, "period_ms": 40}}
        self.check(case([101], firmware={"pulse_ms": 5, "gap_ms": 5}, usb=EACH_MS, program=program), [(150, 1, 1, 1, "detent")])
        # Pulses [101, 161) and [161, 221): 150 applies the first (still down, due 155), 200 the
        # second (the first is up, its 155 and 195 are gone; due 205), 250 finds it up.
        self.check(case([101, 111], firmware={"pulse_ms": 60, "gap_ms": 0}, usb={"poll_ms": 1, "reports": "queued"},
                        program=program), [(150, 1, 1, 1, "detent"), (200, 1, 1, 2, "detent")], ["delivered"] * 2)


class TheValue(Worked):
    def test_wraps_or_stops(self) -> None:
        for wrap, values in ((True, [12 - 10, 17 - 20 + 10]), (False, [9, 4])):
            self.check(case([100, (200, -1)], program={"gain": 5}, scale={"low": 1, "count": 10, "wrap": wrap, "start": 7}),
                       [(100, 1, 5, values[0], "detent"), (200, -1, 5, values[1], "detent")], ["delivered"] * 2)

    def test_without_a_range_any_integer(self) -> None:
        self.check(case([(100, -1)], program={"gain": 4}, scale={"start": -2}), [(100, -1, 4, -6, "detent")])


def draw_case(draw: random.Random) -> dict[str, Any]:
    """A random rig with many ties, turned in bursts with reversals."""
    output = draw.choice(["buttons", "keys", "relative", "axis"])
    detents, time, direction = [], draw.randint(1, 60), 1
    for _ in range(draw.randint(1, 30)):
        if draw.random() < 0.2:
            direction = -direction
        detents.append((time, direction))
        time += draw.choice([17, 20, 40, 100, draw.randint(5, 300)])
    detent_count, cycles = draw.choice([(24, 24), (30, 15), (12, 24), (24, 6), (None, 24)])
    return case(
        detents, knob={"detents": detent_count, "cycles": cycles, "min_state_thousandths": draw.choice([250, 180, 100])},
        firmware={
            "scan_ms": draw.choice([0.5, 1, 4, 10]), "debounce": draw.choice([1, 2, 4]),
            "decoder": draw.choice(["table", "table", "edge"]), "counts_per_detent": draw.choice([1, 1, 2]),
            "output": output, "pulse_ms": draw.choice([2, 8, 20, 30]), "gap_ms": draw.choice([0, 2, 8, 20]),
            "queue": draw.choice([0, 1, 3, 8]), "overflow": draw.choice(["drop-new", "drop-old"]),
            "reversal": draw.choice(["keep", "clear"]), "gain_m": draw.choice([1, 1, 3]),
            "coarse": draw.choice([None, {"above_period_ms": 60, "steps": 10}]),
            "axis": {"bits": draw.choice([4, 8]), "counts_per_detent": draw.choice([1, 3])} if output == "axis" else None,
        },
        usb={"poll_ms": draw.choice([1, 8, 10]), "reports": draw.choice(["state", "queued"])},
        system={"latency_ms": draw.choice([0, 1]), "repeat": draw.choice([None, {"delay_ms": 30, "period_ms": 10}])},
        program={
            "sampling": draw.choice(["state", "events", "immediate"]), "frame_ms": draw.choice([10, 33.333333, 50]),
            "max_per_frame": draw.choice([None, 1, 2]), "excess": draw.choice(["carry", "drop"]),
            "repeats": draw.choice(["apply", "ignore"]), "hold": draw.choice([None, None, {"delay_ms": 20, "period_ms": 10}]),
            "gain": draw.choice([1, 5]),
        },
        scale={"count": 100, "wrap": draw.random() < 0.5, "start": draw.randint(0, 99)})


class Laws(unittest.TestCase):
    def test_the_accounts_add_up_on_random_rigs(self) -> None:
        for number in range(150):
            turned = draw_case(random.Random(number))
            got = answer(turned)
            account, steps = got["account"], got["steps"]
            with self.subTest(number=number):
                ends = ("delivered", "merged", "queue_dropped", "cleared", "illegal", "poll_missed", "frame_missed", "clipped")
                self.assertEqual(sum(account[end] for end in ends), len(turned["detents"]))
                self.assertEqual([s[0] for s in steps], sorted(s[0] for s in steps))
                if turned["rig"]["firmware"]["output"] != "axis":
                    for cause, extra in account["extra_steps"].items():
                        self.assertEqual(sum(s[4] == cause for s in steps), extra)
                if account["pulses"]:
                    applied = sum(s[4] in ("detent", "bounce") for s in steps)
                    self.assertEqual(applied, account["pulses"] - account["pulses_lost"])

    def test_polls_and_frames_see_what_their_definitions_say(self) -> None:
        """Pulse fates once more, from the intervals alone: no events, only the sentences of Accounting."""
        missed = 0
        for number in range(150):
            turned = draw_case(random.Random(1000 + number))
            firmware, usb, program = (turned["rig"][k] for k in ("firmware", "usb", "program"))
            firmware["output"], usb["reports"], program["sampling"] = "buttons", "state", "state"
            path = Path(Case(turned))
            starts: list[tuple[Any, int]] = []
            start = path.output.start
            path.output.start = lambda pulse: (starts.append((pulse, path.env.now)), start(pulse))
            path.run()
            intervals = [(pulse, at, at + firmware["pulse_ns"]) for pulse, at in starts]
            presses = []
            for pulse, begin, end in intervals:
                first = -(-begin // usb["poll_ns"]) * usb["poll_ns"]
                if first >= end:
                    expected = "POLL_MISSED"
                elif any(p.line == pulse.line and b <= first - usb["poll_ns"] < e for p, b, e in intervals):
                    expected = "MERGED_AT_POLL"
                else:
                    expected, up = None, first
                    while any(p.line == pulse.line and b <= up < e for p, b, e in intervals):
                        up += usb["poll_ns"]
                    latency = turned["rig"]["system"]["latency_ns"]
                    presses.append((pulse, first + latency, up + latency))
                if expected:
                    missed += 1
                    self.assertEqual(pulse.fate.name, expected)
            for pulse, begin, end in presses:
                frame = program["frame_ns"]
                first = -(-begin // frame) * frame
                if first >= end:
                    expected = "FRAME_MISSED"
                elif any(p.line == pulse.line and b <= first - frame < e for p, b, e in presses):
                    expected = "MERGED_AT_FRAME"
                else:
                    expected = "DELIVERED"
                self.assertEqual(pulse.fate.name, expected)
        self.assertGreater(missed, 100)


class CommandLine(unittest.TestCase):
    def test_one_line_in_one_line_out(self) -> None:
        script = str(File(__file__).with_name("twin.py"))
        lines = json.dumps(case([100])) + "\n" + '{"rig": {"knob": {"detents": 7}}}' + "\n"
        out = subprocess.run([sys.executable, script], input=lines, capture_output=True, text=True, check=True).stdout
        first, second = map(json.loads, out.splitlines())
        self.assertEqual(first["steps"], [[100 * MS, 1, 1, 1, "detent"]])
        self.assertIn("4*cycles/detents", second["error"])


if __name__ == "__main__":
    unittest.main()
