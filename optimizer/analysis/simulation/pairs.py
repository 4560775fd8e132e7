"""Simulated pairs: rings and their second rings drawn within tolerances, turned together and compared.

A pair names the pitch while the errors of its rings differ by less than its tolerance (`physics/vernier.py`).
Both are built many times over, each read by one head at one angle, and turned by the same angles; told is the
largest difference of each turn. Nothing of the budget is used.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ringset.analysis.simulation.cases import Case, Rows, simulation_cases_of
from ringset.analysis.simulation.monte_carlo import BLOCK, Draw, Spread, simulated_samples
from ringset.physics import simulated_signal
from ringset.physics.quantity import ARCSEC_PER_RAD
from ringset.schema.answer import Answer
from ringset.schema.study import Study


@dataclass(frozen=True)
class PairYield:
    """The largest difference of the errors of a pair in arcsec, one per turn, and what it tolerates."""

    first: Case
    second: Case
    tolerance_arcsec: float
    difference_arcsec: Rows

    @property
    def within(self) -> int:
        """In how many turns every pitch is named rightly."""
        return int(np.count_nonzero(self.difference_arcsec < self.tolerance_arcsec))


def simulate_pairs(
    study: Study, answer: Answer, turns: int, seed: int, spread: Spread = "even"
) -> list[PairYield]:
    """Return simulated pairs of every joint with a second ring, `turns` turns each, in their order."""
    if not answer.second_rings:
        return []
    firsts = {case.ring.place: case for case in simulation_cases_of(study, answer.rings)}
    found = []
    for index, second in enumerate(simulation_cases_of(study, answer.second_rings)):
        first = firsts[second.ring.place]
        told = first.ring.electronics.second_ring
        first = _with_one_head(first)
        blocks = [
            _differences(first, second, np.random.SeedSequence((seed, index, block)), spread)
            for block in range(-(-turns // BLOCK))
        ]
        tolerance = 0.0 if told is None else told.tolerance_arcsec or 0.0
        found.append(PairYield(first, second, tolerance, np.concatenate(blocks)[:turns]))
    return found


def _with_one_head(case: Case) -> Case:
    """Return a case read by its first head alone, set to the angle of the second ring's head."""
    ring = case.ring.model_copy(update={"heads": 1, "head_angles_deg": [0.0]})
    return replace(case, ring=ring, zero_rad=np.zeros((1, 1)))


def _differences(
    first: Case, second: Case, seeds: np.random.SeedSequence, spread: Spread
) -> Rows:  # fmt: skip
    """Return the largest difference of each turn of a block, in arcsec."""
    samples = max(simulated_samples(case.ring.teeth) for case in (first, second))
    errors = []
    for case, sequence in zip((first, second), seeds.spawn(2), strict=True):
        rng = np.random.Generator(np.random.SFC64(sequence))
        draw = Draw(case, BLOCK, rng, spread)
        rings, heads, motion = draw.rings(), draw.heads(), draw.motion()
        errors.append(simulated_signal.simulated_angle_errors(rings, heads, motion, samples, rng))
    return np.asarray(np.max(np.abs(errors[0] - errors[1]), axis=1) * ARCSEC_PER_RAD)
