"""Finds the multipliers of a certificate for an answer whose values are known.

The linear relaxation of the rows that the exact reduction leaves usually has multipliers that prove the
same bound on all rows; else the relaxation of all rows is solved, and as a last resort the proof is given
for the reduced rows. Every step is tried as `verify_certificate` will try it: what is
written down has been checked.
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
from ringset.rating.rated import Weighed
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.reduce import reduce
from ringset.reduction.table import FirstRows, Table, TableRows
from ringset.reduction.units import Units, reduction_units
from ringset.schema.answer import Answer
from ringset.schema.gives import Aim, WeighedSum
from ringset.schema.study import Search, Study, Wish
from ringset.search.bounds.column_generation import relax_program
from ringset.search.bounds.lagrangian import (
    lagrangian_bound,
    multipliers_for_program,
    whole_multipliers,
)
from ringset.search.lexicographic import Solver
from ringset.search.model.program import build_search_program
from ringset.solving.certified_steps import solved_bound_as_step
from ringset.solving.proof_splits import solving_cutter_split
from ringset.solving.proof_tree import GivenUp, TreeWriter, solving_written_round
from ringset.solving.solved import Solved
from ringset.verification.certificate.claims import (
    Claim,
    certificate_claims,
    certificate_give_mismatches,
)
from ringset.verification.certificate.constraints import RowsInQuestion
from ringset.verification.certificate.document import (
    NODES_MAX,
    SEARCHED,
    Certificate,
    ChosenRing,
    Multipliers,
    Node,
    StageProof,
)
from ringset.verification.certificate.duality import NoProof, Step
from ringset.verification.certificate.listed import certificate_better_listed
from ringset.verification.certificate.names import Names
from ringset.verification.certificate.rounds import Round, try_certificate_step
from ringset.verification.certificate.verify import certified_answer_rows

Rows = NDArray[np.intp]
RowsOf = Literal["all", "sifted", "covered"]
Proof = Literal["multipliers", "listing"]

#: Most bytes that the trees of one certificate may make: a file of more than 20 MB is not read.
TREES_BYTES_MAX = 16_000_000
#: Beginnings of answers up to which a list is tried before other multipliers are.
LISTED_SOON = 10_000
#: Least time of a search for rings that reach a least.
LEAST_S = 0.1
#: Rows beyond which a tree is grown on those that covers leave: the less is trusted, the better, but of five
#: studies of 30 joints only one has a tree of material of at most 100 nodes on all rows.
COVERED_ROWS = 20_000
#: Rounds of a proof; each but the last must drop this share of the rows.
ROUNDS, WORTH_A_ROUND = 8, 0.1


def certify(study: Study, answer: Answer, nodes: int = NODES_MAX) -> Certificate:
    """Return the certificate of an answer with rings to a study; takes about as long as its search.

    What multipliers leave of a stage is split into a tree (`proof_tree`); where that does not end within
    the study's time limit or so many nodes, the stage is written as proven by search. Raises ValueError
    where the answer is not one of the study's.
    """
    study = study.canonical()
    rated = rate(study, catalogue(study))
    rated = rated.take(rated.inside)
    ends = time.monotonic() + study.search.time_limit_s
    return solved_rows_certificate(
        study, answer, rated, reduction_table(study, rated), None, ends, nodes
    ).sealed()


def solved_certificate(solved: Solved) -> Certificate:
    """Return the certificate of an answer just found, as `certify` does: most often it was made already.

    Raises ValueError where the answer has no rings.
    """
    if solved.certificate is not None:
        return solved.certificate.sealed()
    if solved.solver is None:
        raise ValueError("an answer without rings has no certificate")
    solver, study = solved.solver, solved.study
    ends = time.monotonic() + study.search.time_limit_s
    made = solved_rows_certificate(study, solved.answer, solved.inside, solver.table, solver, ends)
    return made.sealed()


def solved_rows_certificate(
    study: Study, answer: Answer, rated: Weighed, table: Table, solver: Solver | None, ends: float,
    nodes: int = NODES_MAX,
) -> Certificate:  # fmt: skip
    """Return the certificate of an answer from the rows inside all limits of a canonical study, not sealed.

    `solver` may know multipliers of these rows. What is not found by `ends`, a time of `time.monotonic`, is
    written as found by search; so is what a tree of so many nodes does not prove.
    """
    units = reduction_units(table)
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
    mismatches = list(certificate_give_mismatches(study, answer, units))
    if mismatches:
        raise ValueError("; ".join(mismatches))
    writer = _Writer(table, Names(study.shop, rated), units, chosen, ends, nodes, solver)
    stages = []
    for claim in certificate_claims(study, answer, units):
        stage = writer.stage(claim)
        if claim.alone and solved_answer_value(answer, claim.stage) != claim.value:
            search = study.search.model_copy(
                update={"time_limit_s": max(LEAST_S, ends - time.monotonic())}
            )
            rings = _witness(search, rated, table, units, chosen, claim)
            stage = stage.model_copy(update={"reached_by": rings})
        stages.append(stage)
    return blank.model_copy(update={"stages": stages})


def solved_answer_value(answer: Answer, wish: Wish) -> int:
    """Return what an answer comes to in a wish of its stages, in whole units."""
    return next(stage.value for stage in answer.proof.stages if stage.wish == wish)


def _witness(
    search: Search, rated: Weighed, table: Table, units: Units, chosen: Rows, claim: Claim
) -> list[ChosenRing]:
    """Return rings that come to a claimed least, which the answer passes; none where none are found."""
    solver = Solver(table, units, claim.ceilings, search)
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
class _Rounds:
    """Rounds on some rows: what kind of proof they are, if any, and the rows that they leave."""

    proof: Proof | None
    steps: list[Multipliers]
    rest: RowsInQuestion


@dataclass
class _Writer:
    """Writes the proofs of one answer's stages."""

    table: Table
    names: Names
    units: Units
    chosen: Rows
    ends: float
    nodes: int
    solver: Solver | None = None
    bytes_left: int = field(default_factory=lambda: TREES_BYTES_MAX)
    first: dict[Aim, Step] = field(default_factory=dict)

    def stage(self, claim: Claim) -> StageProof:
        """Return the proof of one claim, of all rows if possible."""
        blank = StageProof(
            wish=claim.stage, unit=claim.unit, value=claim.value, bound=claim.bound,
            ceilings={str(wish): float(most) for wish, most in claim.ceilings.items()},
            held=claim.held_by_name, proof="search", rows="none", steps=[], note=SEARCHED[""],
            sum=str(claim.wish) if isinstance(claim.wish, WeighedSum) else None, again=claim.again,
        )  # fmt: skip
        if claim.value != claim.bound:
            return blank.model_copy(update={"note": SEARCHED["open"]})
        left: list[tuple[RowsOf, _Rounds]] = []
        for rows, rounds in self._tries(claim):
            if rounds.proof is not None:
                found = {"proof": rounds.proof, "rows": rows, "steps": rounds.steps, "note": ""}
                return blank.model_copy(update=found)
            if rows != "sifted":
                left.append((rows, rounds))
        rows, rounds = min(left, key=lambda one: len(one[1].rest.table))
        try:
            tree = self._tree(claim, rounds)
        except GivenUp as given_up:
            return blank.model_copy(update={"note": SEARCHED[given_up.why]})
        grown = {"proof": "tree", "rows": rows, "steps": rounds.steps, "tree": tree, "note": ""}
        return blank.model_copy(update=grown)

    def _tries(self, claim: Claim) -> Iterator[tuple[RowsOf, _Rounds]]:
        """Yield rounds on all rows and, where the search needed no more, on those that the reduction leaves.

        First the multipliers of the search alone, which most often do; then, with relaxations, rounds that
        begin with those of wishes now held, and rounds that do not. Of many rows that take a search, those
        that few ring parts leave are tried alone.
        """
        before = {wish: step for wish, step in self.first.items() if wish in claim.held}
        few = claim.confirmed_by in ("multipliers", "listing")
        which: tuple[RowsOf, ...] = ("all", "sifted") if few else ("all",)
        if not few and claim.covers and len(self.table) > COVERED_ROWS:
            which = ("covered",)
        for rows in which:
            allowed = claim.allowed(claim.table(self.table, rows))
            if self.solver is not None:
                yield rows, self._rounds(claim, allowed, {}, thorough=False)
                if not few and solving_cutter_split(allowed, self.names) is not None:
                    # relaxations of all rows take long, and mix the cutters that a tree parts
                    yield rows, self._rounds(claim, allowed, before, thorough=False)
                    return
            if before:
                yield rows, self._rounds(claim, allowed, before)
            yield rows, self._rounds(claim, allowed, {})

    def _tree(self, claim: Claim, rounds: _Rounds) -> list[Node]:
        """Return a tree on the rows that rounds leave; raises GivenUp."""
        writer = TreeWriter(self.names, claim, self.units, self.ends, self.bytes_left, self.nodes)
        tree = writer.written_tree(rounds.rest)
        self.bytes_left = writer.bytes_left
        return tree

    def _rounds(
        self, claim: Claim, rest: RowsInQuestion, before: dict[Aim, Step], thorough: bool = True
    ) -> _Rounds:
        """Return what rounds prove on the rows that an allowed answer might use, and what they leave.

        `before` are multipliers of wishes now held, which drop rows before the first round. Without
        `thorough` no relaxation is solved.
        """
        if rest.empty:
            return _Rounds(None, [], rest)
        written: list[Multipliers] = []
        for wish, step in before.items():
            tried = _again(wish, step, rest, claim)
            if tried is not None:
                written.append(solving_written_round(self.names, wish, step, rest, tried))
                rest = tried.left
                if tried.proven:
                    return _Rounds("multipliers", written, rest)
        for _ in range(ROUNDS):
            found = self._best_step(self._steps(rest, claim, thorough), rest, claim)
            if found is None:
                break
            step, tried, listed = found
            round_of = solving_written_round(self.names, claim.wish, step, rest, tried)
            self.first.setdefault(claim.wish, step)
            if tried.proven:
                return _Rounds("multipliers", [*written, round_of], tried.left)
            if listed or certificate_better_listed(tried.left, tried.priced, tried.below) is False:
                return _Rounds("listing", [*written, round_of], tried.left)
            if len(tried.left.table) == len(rest.table):
                break
            worth, rest = _worth(rest, tried), tried.left
            written.append(round_of)
            if not worth:
                break
        return _Rounds(None, written, rest)

    def _best_step(
        self, steps: Iterator[Step], rest: RowsInQuestion, claim: Claim
    ) -> tuple[Step, Round, bool] | None:
        """Return the step that proves the claim, or else drops most rows; and whether a list ends it."""
        best: tuple[Step, Round] | None = None
        for step in steps:
            try:
                tried = try_certificate_step(rest, step, claim)
            except NoProof:
                continue
            if tried.proven:
                return step, tried, False
            if (
                certificate_better_listed(tried.left, tried.priced, tried.below, LISTED_SOON)
                is False
            ):
                return step, tried, True
            if best is None or len(tried.left.table) < len(best[1].left.table):
                best = step, tried
        return None if best is None else (*best, False)

    def _steps(self, rest: RowsInQuestion, claim: Claim, thorough: bool) -> Iterator[Step]:
        """Yield multipliers that the search knows, then those of relaxations: of reduced rows, of all."""
        yield from self._known_steps(rest, claim)
        if not thorough:
            return
        reduced = reduce(rest.table, claim.needed)
        for table in (reduced, rest.table) if len(reduced) < len(rest.table) else (reduced,):
            # with the answer's rows the relaxation always has an optimum
            rows = self.table.places_of(FirstRows(np.union1d(table.index, self.chosen)))
            program = build_search_program(
                self.table.take(rows), self.units, claim.wish, claim.ceilings, claim.held
            )
            objective = program.objectives[claim.wish]
            start = np.searchsorted(program.table.index, np.sort(self.chosen))
            relaxed = relax_program(program, objective, TableRows(start), self.ends)
            step = (
                None
                if relaxed is None
                else solved_bound_as_step(
                    program, claim.wish, relaxed.bound, claim.rest(program.table), rest
                )
            )
            if step is not None:
                yield step

    def _known_steps(self, rest: RowsInQuestion, claim: Claim) -> Iterator[Step]:
        """Yield the last multipliers that the search found for the claim's wish, if it is at hand."""
        if self.solver is None:
            return
        table = self.solver.rows_with(claim.needed, FirstRows(np.sort(self.chosen)))
        for given in self.solver.multipliers(claim.wish)[-1:]:
            program = build_search_program(
                table, self.units, claim.wish, claim.ceilings, claim.held
            )
            objective = program.objectives[claim.wish]
            whole = whole_multipliers(
                program, objective, multipliers_for_program(program, objective, given)
            )
            if whole is not None:
                bound = lagrangian_bound(program, objective, whole)
                step = solved_bound_as_step(
                    program, claim.wish, bound, claim.rest(program.table), rest
                )
                yield from [] if step is None else [step]


def _again(wish: Aim, step: Step, rest: RowsInQuestion, claim: Claim) -> Round | None:
    """Let the multipliers of a wish now held drop rows; None where they drop few."""
    try:
        tried = try_certificate_step(rest, step, claim, wish)
    except NoProof:
        return None
    return tried if _worth(rest, tried) else None


def _worth(rest: RowsInQuestion, tried: Round) -> bool:
    return len(tried.left.table) <= (1.0 - WORTH_A_ROUND) * len(rest.table)
