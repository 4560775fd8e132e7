"""Finds the multipliers of a certificate for an answer whose values are known.

The linear relaxation of the rows that the exact reduction leaves usually has multipliers that prove the
same bound on all rows; else the relaxation of all rows is solved, and as a last resort the proof is given
for the reduced rows. Every step is tried as `verify` will try it: what is written down has been checked.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ringset.catalogue.enumerate import catalogue
from ringset.rating.rate import rate
from ringset.rating.rated import Rated
from ringset.reduction.from_ratings import table_of
from ringset.reduction.reduce import reduce
from ringset.reduction.table import HEADS_BASE, FirstRows, Table, TableRows
from ringset.reduction.units import Units, units_of
from ringset.schema.answer import Answer
from ringset.schema.gives import Aim, WeighedSum
from ringset.schema.study import Study, Wish
from ringset.search.bounds.column_generation import relax_program
from ringset.search.bounds.lagrangian import Bound
from ringset.search.lexicographic import Solver
from ringset.search.model.program import Program, build_program
from ringset.verification.certificate.claims import Claim, certificate_claims, give_mismatches
from ringset.verification.certificate.constraints import RowsInQuestion
from ringset.verification.certificate.document import (
    BY_SEARCH,
    Certificate,
    ChosenRing,
    Multipliers,
    Names,
    StageProof,
)
from ringset.verification.certificate.duality import (
    PRICE_MAX,
    NoProof,
    Step,
    better_listed,
    row_prices,
)
from ringset.verification.certificate.verify import (
    Round,
    certified_answer_rows,
    certified_round_outcome,
    try_step,
)

Rows = NDArray[np.intp]
Proof = Literal["multipliers", "listing"]

#: Rounds of a proof; each but the last must drop this share of the rows.
ROUNDS, WORTH_A_ROUND = 8, 0.1
#: Multipliers are counted in 1/2^SCALE, or coarser where the numbers are large.
SCALE = 40


def certify(study: Study, answer: Answer) -> Certificate:
    """Return the certificate of an answer with rings to a study; takes about as long as its search.

    Stages that no multipliers prove are written as proven by search. Raises ValueError where the answer
    is not one of the study's.
    """
    study = study.canonical()
    rated = rate(study, catalogue(study))
    rated = rated.take(rated.inside)
    table = table_of(study, rated)
    units = units_of(table)
    chosen = certified_answer_rows(rated, answer)
    if chosen is None or answer.study_sha256 != study.fingerprint():
        raise ValueError("an answer of another study has no certificate")
    blank = Certificate(
        title=study.title,
        study_sha256=answer.study_sha256,
        material_unit_kg=units.material_kg,
        cost_unit=units.cost if "cost" in study.wishes.order else None,
        stages=[],
    )
    ends = time.monotonic() + study.search.time_limit_s
    mismatches = list(give_mismatches(study, answer, units))
    if mismatches:
        raise ValueError("; ".join(mismatches))
    writer = _Writer(table, Names(study.shop, rated), units, chosen, ends)
    stages = []
    for claim in certificate_claims(study, answer, units):
        stage = writer.stage(claim)
        if claim.alone and answer_value(answer, claim.stage) != claim.value:
            rings = _witness(study, rated, table, units, chosen, claim)
            stage = stage.model_copy(update={"reached_by": rings})
        stages.append(stage)
    return blank.model_copy(update={"stages": stages}).sealed()


def answer_value(answer: Answer, wish: Wish) -> int:
    """Return what an answer comes to in a wish of its stages, in whole units."""
    return next(stage.value for stage in answer.proof.stages if stage.wish == wish)


def _witness(
    study: Study, rated: Rated, table: Table, units: Units, chosen: Rows, claim: Claim
) -> list[ChosenRing]:
    """Return rings that come to a claimed least, which the answer passes; none where none are found."""
    solver = Solver(table, units, claim.ceilings, study.search)
    start = FirstRows(np.sort(chosen))
    stage, rows = solver.minimise(claim.wish, claim.held, start)
    if stage.value != claim.value:
        return []
    catalogue = rated.catalogue
    second = catalogue.partner_teeth()
    refs, module, bore = catalogue.joints, catalogue.module_mm(), catalogue.bore_mm()
    return [
        ChosenRing(
            robot=refs[int(catalogue.joint[row])].robot.name,
            joint=refs[int(catalogue.joint[row])].joint.name,
            module_mm=float(module[row]),
            teeth=int(catalogue.teeth[row]),
            bore_mm=float(bore[row]),
            heads=int(catalogue.heads[row]),
            second_teeth=int(second[row]) or None,
        )
        for row in rows
    ]


@dataclass(frozen=True)
class _Writer:
    """Writes the proofs of one answer's stages."""

    table: Table
    names: Names
    units: Units
    chosen: Rows
    ends: float
    first: dict[Aim, Step] = field(default_factory=dict)

    def stage(self, claim: Claim) -> StageProof:
        """Return the proof of one claim, of all rows if possible."""
        blank = StageProof(
            wish=claim.stage, unit=claim.unit, value=claim.value, bound=claim.bound,
            ceilings={str(wish): float(most) for wish, most in claim.ceilings.items()},
            held=claim.held_by_name, proof="search", rows="none", steps=[], note=BY_SEARCH,
            sum=str(claim.wish) if isinstance(claim.wish, WeighedSum) else None, again=claim.again,
        )  # fmt: skip
        if claim.value != claim.bound:
            return blank.model_copy(update={"note": f"{BY_SEARCH}; not proven"})
        tries = [("all", {}), ("all", self.first), ("sifted", {}), ("sifted", self.first)]
        if claim.confirmed_by not in ("multipliers", "listing"):  # there is little hope
            # but for halves that are cutters perhaps, each settled by multipliers at once
            held = tries[:2] if claim.confirmed_by == "halves" else tries[1:2]
            tries = held if claim.held else tries[:1]
        for rows, earlier in tries:
            before = {wish: step for wish, step in earlier.items() if wish in claim.held}
            if earlier and not before:
                continue
            proof, steps = self._rounds(claim, claim.table(self.table, rows), before)
            if proof is not None:
                found = {"proof": proof, "rows": rows, "steps": steps, "note": ""}
                return blank.model_copy(update=found)
        return blank

    def _rounds(
        self, claim: Claim, table: Table, before: dict[Aim, Step]
    ) -> tuple[Proof | None, list[Multipliers]]:
        """Return how the claim is proven on the rows of a table, None if it is not, and the steps.

        `before` are multipliers of wishes now held, which drop rows before the first round.
        """
        rest = claim.allowed(table)
        if rest.empty:
            return None, []
        whole = {line.name for line in rest.lines if line.whole}
        written: list[Multipliers] = []

        def write(bounds: Aim, step: Step, tried: Round) -> None:
            bound, left = certified_round_outcome(tried)
            stated = {"lower_bound_scaled": bound, "rows_left": left}
            written.append(self.names.written(bounds, step, whole).model_copy(update=stated))

        for wish, step in before.items():
            tried = _again(wish, step, rest, claim)
            if tried is not None:
                write(wish, step, tried)
                rest = tried.left
                if tried.proven:
                    return "multipliers", written
        for _ in range(ROUNDS):
            found = self._best_step(rest, claim)
            if found is None:
                break
            step, tried = found
            write(claim.wish, step, tried)
            self.first.setdefault(claim.wish, step)
            if tried.proven:
                return "multipliers", written
            if better_listed(tried.left, tried.priced, tried.below) is False:
                return "listing", written
            if not _worth(rest, tried):
                break
            rest = tried.left
        return None, written

    def _best_step(self, rest: RowsInQuestion, claim: Claim) -> tuple[Step, Round] | None:
        """Return the step that proves the claim, or else drops most rows."""
        best: tuple[Step, Round] | None = None
        for step in self._steps(rest, claim):
            try:
                tried = try_step(rest, step, claim)
            except NoProof:
                continue
            if tried.proven:
                return step, tried
            if best is None or len(tried.left.table) < len(best[1].left.table):
                best = step, tried
        return best

    def _steps(self, rest: RowsInQuestion, claim: Claim) -> Iterator[Step]:
        """Yield multipliers of the relaxation of the reduced rows, then of all in question."""
        reduced = reduce(rest.table, claim.needed)
        for table in (reduced, rest.table) if len(reduced) < len(rest.table) else (reduced,):
            # with the answer's rows the relaxation always has an optimum
            rows = self.table.places_of(FirstRows(np.union1d(table.index, self.chosen)))
            program = build_program(
                self.table.take(rows), self.units, claim.wish, claim.ceilings, claim.held
            )
            objective = program.objectives[claim.wish]
            start = np.searchsorted(program.table.index, np.sort(self.chosen))
            relaxed = relax_program(program, objective, TableRows(start), self.ends)
            step = None if relaxed is None else _step_of(program, claim, relaxed.bound, rest)
            if step is not None:
                yield step


def _again(wish: Aim, step: Step, rest: RowsInQuestion, claim: Claim) -> Round | None:
    """Let the multipliers of a wish now held drop rows; None where they drop few."""
    try:
        tried = try_step(rest, step, claim, wish)
    except NoProof:
        return None
    return tried if _worth(rest, tried) else None


def _worth(rest: RowsInQuestion, tried: Round) -> bool:
    return len(tried.left.table) <= (1.0 - WORTH_A_ROUND) * len(rest.table)


def _step_of(program: Program, claim: Claim, bound: Bound, rest: RowsInQuestion) -> Step | None:
    """Return a bound's multipliers in real units, as fine as 64 bits allow."""
    mine = claim.rest(program.table)
    for exponent in range(SCALE, 3, -2):
        try:
            step = _counted(program, claim, bound, rest, mine, 2**exponent)
            row_prices(mine, step)
            row_prices(rest, step)
        except NoProof:  # too fine for 64 bits
            continue
        return step
    return None


def _counted(
    program: Program,
    claim: Claim,
    bound: Bound,
    rest: RowsInQuestion,
    mine: RowsInQuestion,
    scale: int,
) -> Step:
    """Return multipliers in 1/scale of the wish's whole units.

    Those of the joints follow from the price of one row each: the program counts every line less each
    joint's least, which only shifts them.
    """
    limits, multipliers = program.limits, bound.multipliers
    size = scale * program.objectives[claim.wish].scale / multipliers.scale
    is_whole = {line.name: line.whole for line in mine.lines}
    lines: dict[str, int | float] = {}
    for name, many in zip(
        limits.names, (multipliers.limits * size * limits.units).tolist(), strict=True
    ):
        if many > 0.0:
            lines[name] = round(many) if is_whole[name] else many
    joints = program.joints
    cutters = {
        (key // joints, key % joints): round(many * size)
        for key, many in zip(
            program.cutters.key.tolist(), multipliers.cutters.tolist(), strict=True
        )
        if many > 0
    }
    seconds = {
        (key // joints, key % joints): round(many * size)
        for key, many in zip(
            program.seconds.key.tolist(), multipliers.seconds.tolist(), strict=True
        )
        if many > 0
    }
    known = dict(zip(program.patterns.key.tolist(), multipliers.heads.tolist(), strict=True))
    heads = _heads_of_all(known, rest.table, size)
    start = Step(scale, lines, np.zeros(joints, dtype=np.int64), cutters, heads, seconds)
    order = np.lexsort((bound.row_prices, program.joint))
    row = order[np.searchsorted(program.joint[order], np.arange(joints))]
    prices = bound.row_prices[row] * size
    if np.abs(prices).max(initial=0.0) >= PRICE_MAX:
        raise NoProof("numbers too large to be added safely")
    wanted = np.rint(prices).astype(np.int64)
    return Step(scale, lines, wanted - row_prices(mine, start)[row], cutters, heads, seconds)


def _heads_of_all(known: dict[int, int], table: Table, size: float) -> dict[tuple[int, int], int]:
    """Return multipliers of every head count: one that the program lacks is like the next fewer."""
    by_joint: dict[int, dict[int, int]] = {}
    for key, many in known.items():
        joint, count = divmod(key, HEADS_BASE)
        by_joint.setdefault(joint, {})[count] = round(many * size)
    heads: dict[tuple[int, int], int] = {}
    for joint, count in {*zip(table.joint.tolist(), table.heads.tolist(), strict=True)}:
        if joint in by_joint:
            fewer = [h for h in by_joint[joint] if h <= count]
            heads[joint, count] = by_joint[joint][max(fewer, default=min(by_joint[joint]))]
    return heads
