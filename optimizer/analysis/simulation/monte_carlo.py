"""Simulated yield: thousands of rings and joints drawn within the study's tolerances, turned and read.

Every joint of an answer is built many times over; `physics.simulated_signal` turns each and reads its angle.
Told are the distribution of the half range over a turn, and how many joints and robots meet their targets.
Draws come from the seed, joint by joint and block by block, whatever the number of processes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from multiprocessing import get_context
from typing import Literal

import numpy as np

from ringset.analysis.simulation.cases import Case, Rows, simulation_cases
from ringset.physics import simulated_signal
from ringset.physics.quantity import ARCSEC_PER_RAD
from ringset.physics.ring_form import along_without_stretch, pitch_curve
from ringset.physics.toolpoint import lever_error_um
from ringset.schema.answer import Answer
from ringset.schema.study import Study

Spread = Literal["even", "full"]
#: Turns that are computed together; small enough for the cache.
BLOCK = 16
#: Blocks that a process works off before it reports, and from how many on processes are worth starting.
TASK_BLOCKS = 8
SHARED_BLOCKS = 200
#: Fewest samples of a turn.
SAMPLES = 4096
#: How often a bearing's own run-out goes round per turn: the cage of a rolling bearing, about 0.4.
CAGE_ORBIT = 0.4


class Draw:
    """One block of turns of one case: amplitudes drawn, phases random.

    `spread` full: every tolerance at its limit, only phases and signs vary. even: amplitudes even
    between nothing and the limit. `only` names the terms of the budget that are switched on; None is all.
    """

    def __init__(
        self,
        case: Case,
        turns: int,
        rng: np.random.Generator,
        spread: Spread,
        only: Sequence[str] | None = None,
    ) -> None:
        self.case, self.turns, self.rng, self.spread, self.only = case, turns, rng, spread, only

    def on(self, term: str) -> bool:
        """Say whether a term is switched on."""
        return self.only is None or term in self.only

    def size(self, term: str, limit: float, shape: tuple[int, ...] | None = None) -> Rows:
        """Return amplitudes of a term: its limit, or even up to it."""
        shape = shape or (self.turns,)
        if not self.on(term):
            return np.zeros(shape)
        return np.full(shape, limit) if self.spread == "full" else limit * self.rng.random(shape)

    def phase(self, shape: tuple[int, ...] | None = None) -> Rows:
        """Return unit phasors of random phase."""
        return np.asarray(np.exp(2j * np.pi * self.rng.random(shape or (self.turns,))))

    def rings(self) -> simulated_signal.Rings:
        """Return the rings of the block."""
        case, z = self.case, self.case.ring.teeth
        radius_um = case.pitch_radius_mm * 1e3
        places = 2.0 * np.pi * np.arange(z) / z
        radial = np.zeros((self.turns, z))
        for term, lobe_um, order in (
            ("seat_ovality", case.ovality_um, 2),
            ("clamping", case.lobe_um, case.lobes),
        ):
            wave = self.size(term, lobe_um)[:, np.newaxis] * self.phase()[:, np.newaxis]
            radial += (wave * np.exp(1j * order * places)).real
        tangential = along_without_stretch(radial) / radius_um
        if self.on("cumulative_pitch"):
            limit = self.size("cumulative_pitch", case.cumulative_um)[:, np.newaxis]
            tangential += (
                pitch_curve(z, self.turns, self.rng, case.pitch_exponent) * limit / radius_um
            )
        if self.on("single_pitch"):
            limit = self.size("single_pitch", case.single_um)[:, np.newaxis]
            tangential += (2.0 * self.rng.random((self.turns, z)) - 1.0) * limit / radius_um
        if self.on("temperature_gradient"):
            tangential += self._heated(places)
        eccentric = "mounting_offset" if self.on("mounting_offset") else "mounting_offset_second"
        offset_um = self.size(eccentric, case.offset_um) * self.phase()
        if case.tips_um > 0.0 and self.on("tips_off_bore"):
            # the dial has brought the tips to the offset: bore and teeth stand off by what the tips run out
            tips_um = self.size("tips_off_bore", case.tips_um) * self.phase()
            offset_um = offset_um - tips_um
            radial += (tips_um[:, np.newaxis] * np.exp(-1j * places)).real
        return simulated_signal.Rings(
            teeth=z,
            tip_radius_mm=case.tip_radius_mm,
            offset_mm=offset_um * 1e-3,
            tooth_rad=tangential,
            runout_mm=radial * 1e-3,
            teeth_sensed=case.ref.head.teeth_sensed,
        )

    def _heated(self, places: Rows) -> Rows:
        """Return tooth angles of a ring warmer on one side: the free displacement field, read tangentially.

        u = a G (x^2 - y^2) / 2, v = a G x y for a temperature that rises by G per mm along x.
        """
        case = self.case
        warmer = self.size("temperature_gradient", case.ref.joint.temperature_gradient_k)
        slope = case.expansion_per_k * warmer[:, np.newaxis] / (2.0 * case.pitch_radius_mm)
        turned = places + np.angle(self.phase())[:, np.newaxis]
        x, y = case.pitch_radius_mm * np.cos(turned), case.pitch_radius_mm * np.sin(turned)
        u, v = slope * (x**2 - y**2) / 2.0, slope * x * y
        return np.asarray((v * np.cos(turned) - u * np.sin(turned)) / case.pitch_radius_mm)

    def heads(self, misplaced_rad: Rows | None = None) -> simulated_signal.Heads:
        """Return the heads of the block; at the widest gap for `full`, else at a random one."""
        case, head = self.case, self.case.ref.head
        shape = (self.turns, case.ring.heads)
        narrow, _, wide = case.gaps_mm
        gap = np.full(self.turns, wide)
        if self.spread == "even":
            gap = narrow + (wide - narrow) * self.rng.random(self.turns)
        weak = case.strength(gap)[:, np.newaxis]
        third_gap = np.full(self.turns, narrow) if self.spread == "full" else gap
        filtered = (case.strength(third_gap, 3) / case.strength(third_gap))[:, np.newaxis]
        if misplaced_rad is None:
            box = np.radians(head.placement_tolerance_deg) * (case.ring.heads > 1)
            misplaced_rad = box * (self.rng.random(shape) - 0.5)
        noise = head.noise_ratio / float(np.min(weak)) if self.on("noise") else 0.0
        signed = filtered * np.sign(self.rng.random((self.turns, 1)) - 0.5)
        skew = float(np.radians(head.residual_quadrature_deg))
        return simulated_signal.Heads(
            radius_mm=case.tip_radius_mm + case.ring.gap_mm,
            zero_rad=case.zero_rad,
            misplaced_rad=misplaced_rad,
            offset=self._shared("residual_offset", head.residual_offset, complex_=True) / weak,
            gain=self._shared("residual_gain", head.residual_gain),
            quadrature_rad=self._shared("residual_quadrature", skew),
            stray=self.size("stray_field", head.stray_field, shape) * self.phase(shape) / weak,
            third=self.size("third_harmonic", head.third_harmonic)[:, np.newaxis] * signed,
            noise=noise,
        )

    def _shared(self, term: str, limit: float, complex_: bool = False) -> Rows:
        """Return a channel error per turn and head, in part alike at all heads of a turn.

        Every head is off by the whole amplitude, in the sign (or direction) common to the turn with
        probability sqrt(c) and else in one of its own. Any two heads then have the common share c of their
        variance alike, as in the budget, and none is worse than its limit.
        """
        shape = (self.turns, self.case.ring.heads)

        def direction(of: tuple[int, ...]) -> Rows:
            return self.phase(of) if complex_ else np.sign(self.rng.random(of) - 0.5)

        alike, own = direction((self.turns, 1)), direction(shape)
        if shape[1] == 1 and self.only is not None:
            own = alike = -np.ones(shape)  # the sign for which a gain error does most
        shared = self.rng.random(shape) < np.sqrt(self.case.ref.head.common_share)
        return np.asarray(self.size(term, limit)[:, np.newaxis] * np.where(shared, alike, own))

    def motion(self) -> simulated_signal.Motion:
        """Return what axis and clock do over the block."""
        joint, head = self.case.ref.joint, self.case.ref.head
        omega = joint.speed_max_rpm * 2.0 * np.pi / 60.0
        jitter = omega * head.timing_jitter_us * 1e-6 if self.on("timing_jitter") else 0.0
        return simulated_signal.Motion(
            shift_mm=self.size("bearing_shift", joint.bearing_shift_um) * 1e-3 * self.phase(),
            orbit=CAGE_ORBIT,
            jitter_rad=jitter,
            wobble_rad=self.size("wobble", joint.wobble_mrad * 1e-3),
            flank_line_rad=self.case.flank_line_rad if self.on("wobble") else 0.0,
        )


def simulated_samples(teeth: int) -> int:
    """Return the samples of a turn: a power of two, sixteen and more for each tooth.

    The highest order of interest is 4 z; fewer samples would fold it onto others.
    """
    samples = SAMPLES
    while samples < 16 * teeth:
        samples *= 2
    return samples


def simulated_turns(draw: Draw, single: bool = True) -> Rows:
    """Return the error curves in arcsec of a block of turns."""
    rings, heads, motion = draw.rings(), draw.heads(), draw.motion()
    samples = simulated_samples(draw.case.ring.teeth)
    errors = simulated_signal.simulated_angle_errors(
        rings, heads, motion, samples, draw.rng, single=single
    )
    errors *= ARCSEC_PER_RAD
    if draw.on("quantisation"):
        # rounding to displayed steps is even over a step as the ring turns by
        step = draw.rng.random(errors.shape, dtype=errors.dtype.type) - errors.dtype.type(0.5)
        errors += step * errors.dtype.type(draw.case.ring.displayed_step_arcsec)
    return np.asarray(errors)


@dataclass(frozen=True)
class JointYield:
    """Simulated half ranges of one joint in arcsec, one per turn."""

    case: Case
    half_range_arcsec: Rows

    @property
    def within(self) -> int:
        """How many turns meet the joint's target."""
        return int(np.count_nonzero(self.half_range_arcsec <= self.case.ring.target_arcsec))


@dataclass(frozen=True)
class RobotYield:
    """Simulated tool-point errors of one robot in um, one per turn of all its joints."""

    robot: str
    target_um: float | None
    error_um: Rows

    @property
    def within(self) -> int | None:
        """How many robots meet their target; None without one."""
        if self.target_um is None:
            return None
        return int(np.count_nonzero(self.error_um <= self.target_um))


@dataclass(frozen=True)
class _Task:
    """Some blocks of turns of one case; the draws follow from seed, index and block alone."""

    case: Case
    index: int
    blocks: range
    seed: int
    spread: Spread


def _half_ranges(task: _Task) -> tuple[int, range, Rows]:
    """Return the half ranges of a task's turns; runs in any process."""
    half = []
    for block in task.blocks:
        sequence = np.random.SeedSequence((task.seed, task.index, block))
        rng = np.random.Generator(np.random.SFC64(sequence))
        half.append(
            simulated_signal.error_curve_half_range(
                simulated_turns(Draw(task.case, BLOCK, rng, task.spread))
            )
        )
    return task.index, task.blocks, np.concatenate(half)


def simulate_yield(
    study: Study,
    answer: Answer,
    turns: int,
    seed: int,
    spread: Spread = "even",
    processes: int = 2,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[list[JointYield], list[RobotYield]]:
    """Return simulated yields of every joint and robot of an answer, `turns` turns each.

    Long work is shared by `processes` processes of their own, which must be able to import the main
    module again. Raises ValueError where a ring would touch a head.
    """
    found = simulation_cases(study, answer)
    count = -(-turns // BLOCK)
    tasks = [
        _Task(case, index, range(first, min(first + TASK_BLOCKS, count)), seed, spread)
        for index, case in enumerate(found)
        for first in range(0, count, TASK_BLOCKS)
    ]
    half = np.zeros((len(found), count * BLOCK))
    shared = processes > 1 and len(found) * count >= SHARED_BLOCKS
    with get_context("spawn").Pool(processes) if shared else nullcontext() as pool:
        results = pool.imap_unordered(_half_ranges, tasks) if pool else map(_half_ranges, tasks)
        for done, (index, blocks, values) in enumerate(results, start=1):
            half[index, blocks.start * BLOCK : blocks.stop * BLOCK] = values
            if progress is not None:
                progress(done, len(tasks))
    half = half[:, :turns]
    joints = [JointYield(case, half[i]) for i, case in enumerate(found)]
    names = dict.fromkeys(ring.robot for ring in answer.rings)
    return joints, [_robot_yield(study, name, joints) for name in names]


def _robot_yield(study: Study, name: str, joints: list[JointYield]) -> RobotYield:
    robot = next(robot for robot in study.robots if robot.name == name)
    levers = np.array(
        [
            lever_error_um(y.case.ref.joint.reach_mm, y.half_range_arcsec)
            for y in joints
            if y.case.ref.robot.name == name
        ]
    )
    rss = robot.tool_point_rule == "rss"
    error = np.sqrt(np.sum(levers**2, axis=0)) if rss else np.sum(levers, axis=0)
    return RobotYield(name, robot.tool_point_target_um, np.asarray(error))
