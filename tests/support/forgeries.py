"""Forged certificates of ten kinds, sealed anew, and the truth they are held against: all answers, listed.

The forger knows all that the verifier does. He puts a worse answer in place of the best (`worse`) or counts
in another unit, changes true multipliers, and writes what the verifier will find (`restated`), so that only
the proof itself can give him away. What he makes is read from its JSON text, as a file would be.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from ringset.rating.rated import Rated
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.table import FirstRows, Table
from ringset.reduction.units import Units, reduction_units
from ringset.schema.answer import Answer
from ringset.schema.loading import load_answer, load_model
from ringset.schema.study import Study, Wish
from ringset.search.state.result import Choice, StageResult
from ringset.solving.certify import certify
from ringset.solving.pipeline import compose_chosen_answer, solve
from ringset.verification.certificate.claims import certificate_claims
from ringset.verification.certificate.document import Certificate
from ringset.verification.certificate.duality import NoProof
from ringset.verification.certificate.names import Names
from ringset.verification.certificate.rounds import certified_round_outcome, try_certificate_step
from ringset.verification.certificate.verify import verify_certificate
from tests.support.coarse_units import counted_in
from tests.support.studies import (
    Json,
    combinations,
    inside_rows,
    load,
    priced_study,
    random_study,
)  # fmt: skip
from tests.support.tables import Listed, listed

#: Most answers of a study that are listed.
LISTED_MAX = 20_000

Found = Literal["unreadable", "refused", "not verified", "true", "FORGED"]


@dataclass(frozen=True)
class Case:
    """A small study with its best answer, its certificate, and every answer listed."""

    seed: int
    study: Study
    rated: Rated
    table: Table
    units: Units
    answers: Listed
    best: Answer
    certificate: Certificate

    @cached_property
    def worse(self) -> np.ndarray:
        """The allowed answers that miss the best values somewhere, the nearest first."""
        allowed = np.flatnonzero(self.answers.allowed(self.study.wishes.ceilings()))
        reached = np.stack([self.answers.values[wish][allowed] for wish in self.order])
        told = np.array([stage.value for stage in self.best.proof.stages])
        nearest = np.lexsort(reached[::-1])
        return allowed[nearest[np.any(reached[:, nearest] != told[:, np.newaxis], axis=0)]]

    @property
    def order(self) -> list[Wish]:
        """The wishes of the study in their order."""
        return self.study.wishes.order

    def answer(self, place: int, units: Units, answers: Listed) -> Answer:
        """Return one of the listed answers, which claims to be the best of all."""
        values = [(wish, int(answers.values[wish][place])) for wish in self.order]
        stages = [StageResult(wish, value, value, "multipliers") for wish, value in values]
        choice = Choice(
            "proven", FirstRows(answers.picks[place]), stages, rows_searched=len(self.table)
        )
        return compose_chosen_answer(self.study, self.rated.weighed(), units, choice)

    def least(self, wish: Wish, before: dict[Wish, int]) -> int:
        """Return the least that a wish comes to among all answers that hold the wishes before it."""
        alive = self.answers.allowed(self.study.wishes.ceilings())
        for held, value in before.items():
            alive &= self.answers.values[held] <= value
        return int(self.answers.values[wish][alive].min())


def case_of(seed: int, priced: bool) -> Case | None:
    """Return the case of a seed; None where there is no answer, none but the best, or very many."""
    study = load(priced_study(seed) if priced else random_study(seed)).canonical()
    rated = inside_rows(study)
    if not 1 < combinations(rated) <= LISTED_MAX:
        return None
    best = solve(study)
    if not best.rings:
        return None
    table = reduction_table(study, rated)
    units = reduction_units(table)
    answers = listed(table, units)
    case = Case(seed, study, rated, table, units, answers, best, certify(study, best))
    return case if len(case.worse) else None


def cases(first: int) -> Iterator[Case]:
    """Yield cases from a seed on, every second one with prices."""
    seed = first
    while True:
        made = case_of(seed, priced=seed % 2 == 1)
        if made is not None:
            yield made
        seed += 1


# -- what the forger has in hand --------------------------------------------------------------------


@dataclass
class Draft:
    """An answer and a certificate as JSON data, to be changed at will."""

    answer: Json
    certificate: Json

    def stage(self, draw: random.Random, steps: int = 0) -> Json | None:
        """Return some stage with at least so many steps."""
        known = [stage for stage in self.certificate["stages"] if len(stage["steps"]) >= steps]
        return draw.choice(known) if known else None

    def read(self) -> tuple[Answer, Certificate] | None:
        """Return both as from their files; None where one of them cannot be read."""
        try:
            answer = load_answer(json.dumps(self.answer))
            return answer, load_model(Certificate, json.dumps(self.certificate)).sealed()
        except ValueError:
            return None


def draft(case: Case, draw: random.Random, certificate: Certificate | None = None) -> Draft:
    """Return a worse answer beside the certificate of the best (or another), its claims made to fit."""
    near = case.worse[:10] if draw.random() < 0.6 else case.worse
    spoilt = case.answer(int(draw.choice(near)), case.units, case.answers)
    made = json.loads((certificate or case.certificate).to_json())
    held: dict[str, int] = {}
    for stage, told in zip(made["stages"], spoilt.proof.stages, strict=False):
        stage.update(
            wish=told.wish, unit=told.unit, value=told.value, bound=told.bound, held=dict(held),
            ceilings=case.study.wishes.ceilings(),
        )  # fmt: skip
        held[told.wish] = told.value
    return Draft(json.loads(spoilt.to_json()), made)


def restated(case: Case, made: Draft) -> Draft:
    """Let every round state what the verifier finds, and every stage the kind of proof that it then is."""
    known = made.read()
    if known is None:
        return made
    answer, certificate = known
    names = Names(case.study.shop, case.rated)
    claims = certificate_claims(case.study, answer, case.units)
    for claim, stage, data in zip(
        claims, certificate.stages, made.certificate["stages"], strict=False
    ):
        if stage.rows == "none" or not stage.steps:
            continue
        rest, proven = claim.allowed(claim.table(case.table, stage.rows)), False
        for given, told in zip(stage.steps, data["steps"], strict=True):
            try:
                tried = try_certificate_step(rest, names.read(given), claim, given.bounds)
            except NoProof:
                break
            told["lower_bound_scaled"], told["rows_left"] = certified_round_outcome(tried)
            rest, proven = tried.left, tried.proven
        data["proof"] = "multipliers" if proven else "listing"
    return made


# -- ten kinds of forgery ---------------------------------------------------------------------------


def other_unit(case: Case, draw: random.Random, wish: Wish) -> Draft | None:
    """Count material or money in another unit: the best answer of that count, the worst in truth."""
    factor = draw.choice((10.0, 100.0, 1e3, 1e4, 3.0, 7e3, 0.1, 0.5, 1e-3))
    size = case.units.size(wish) * factor
    units = (
        Units(size, case.units.cost) if wish == "material" else Units(case.units.material_kg, size)
    )
    answers = listed(case.table, units)
    best = answers.best(case.order, case.study.wishes.ceilings())
    assert best is not None
    alive = answers.allowed(case.study.wishes.ceilings())
    for one, value in zip(case.order, best, strict=True):
        alive &= answers.values[one] == value
    alike = np.flatnonzero(alive)
    answer = case.answer(int(alike[np.argmax(answers.real[wish][alike])]), units, answers)
    with counted_in(units):
        certificate = certify(case.study, answer)
    return Draft(json.loads(answer.to_json()), json.loads(certificate.to_json()))


def material_unit(case: Case, draw: random.Random) -> Draft | None:
    """Another unit of material."""
    return other_unit(case, draw, "material")


def money_unit(case: Case, draw: random.Random) -> Draft | None:
    """Another unit of money, where money is a wish."""
    return other_unit(case, draw, "cost") if "cost" in case.order else None


def value(case: Case, draw: random.Random) -> Draft | None:
    """Values and bounds that the answer does not reach, in answer and certificate alike."""
    made = draft(case, draw)
    place = draw.randrange(len(made.certificate["stages"]))
    wish, more = made.certificate["stages"][place]["wish"], draw.choice((-1, -1, 1, -10, 1000))
    if draw.random() < 0.5:  # what would be true of the best answer
        more = (
            case.best.proof.stages[place].value - made.certificate["stages"][place]["value"] or -1
        )
    for stages in (made.certificate["stages"], made.answer["proof"]["stages"]):
        stages[place]["value"] += more
        stages[place]["bound"] += more
    for later in made.certificate["stages"][place + 1 :]:
        later["held"][wish] += more
    return restated(case, made)


def multipliers(case: Case, draw: random.Random) -> Draft | None:
    """Other multipliers: scaled, of another sign, moved from joint to joint, drawn anew, out of all size."""
    made = draft(case, draw)
    stage = made.stage(draw, steps=1)
    if stage is None:
        return None
    for step in stage["steps"]:
        for kind in ("joints", "whole_limits", "real_limits"):
            for name in step[kind]:
                if draw.random() < 0.6:
                    step[kind][name] = _spoilt(step[kind][name], step["scale"], draw)
        for cutter in step["cutters"].values():
            for name in cutter:
                if draw.random() < 0.4:
                    cutter[name] = _spoilt(cutter[name], step["scale"], draw)
        if draw.random() < 0.3:
            step["scale"] = max(1, int(step["scale"] * draw.choice((0.5, 2, 1000, 2.0**-39))))
    return restated(case, made)


def _spoilt(number: float, scale: int, draw: random.Random) -> float:
    changed = draw.choice((
        lambda: number + draw.randint(-scale, scale), lambda: -number, lambda: number * 2,
        lambda: number / 2, lambda: 0, lambda: number - 10 * scale, lambda: 2**59, lambda: -(2**61),
    ))()  # fmt: skip
    return int(changed) if isinstance(number, int) else float(changed)


def rows(case: Case, draw: random.Random) -> Draft | None:
    """Rows and kinds of proof that are claimed: all, sifted, covered, none; multipliers, listing, search."""
    made = draft(case, draw)
    for stage in made.certificate["stages"]:
        stage["rows"] = draw.choice(("all", "sifted", "covered", "none"))
    made = restated(case, made)
    for stage in made.certificate["stages"]:
        if draw.random() < 0.7:
            stage["proof"] = draw.choice(("multipliers", "listing"))
            stage["note"] = ""
    return made


def held(case: Case, draw: random.Random) -> Draft | None:
    """Held wishes and ceilings left out, made up, raised or lowered."""
    made = draft(case, draw)
    stage = draw.choice(made.certificate["stages"])
    for name in ("held", "ceilings"):
        known = stage[name]
        if known and draw.random() < 0.6:
            wish = draw.choice(sorted(known))
            known[wish] = max(0, known[wish] + draw.choice((-1, 1, -known[wish], 1000)))
        elif known and draw.random() < 0.5:
            known.pop(draw.choice(sorted(known)))
        else:
            known[draw.choice(case.order)] = draw.choice((0, 1, stage["value"], 10**6))
    return restated(case, made)


def steps(case: Case, draw: random.Random) -> Draft | None:
    """Rounds dropped, doubled, turned round, or taken from another stage."""
    made = draft(case, draw)
    stage, other = made.stage(draw, steps=1), made.stage(draw, steps=1)
    if stage is None or other is None:
        return None
    known, before = stage["steps"], stage["wish"]
    stage["steps"] = draw.choice((
        known[1:], known[:-1], known * 2, known[::-1], [*other["steps"], *known], other["steps"], [],
    ))  # fmt: skip
    stage["steps"] = json.loads(json.dumps(stage["steps"]))
    if draw.random() < 0.5:
        for step in stage["steps"]:
            step["bounds"] = draw.choice([before, *stage["held"]])
    return restated(case, made) if draw.random() < 0.8 else made


def other_study(case: Case, draw: random.Random) -> Draft | None:
    """The certificate of a study like this one with other limits, its names and claims made to fit."""
    target = case.study.target.angle_target_arcsec * draw.choice((0.7, 1.3, 2.0))
    target = min(target, 600_000.0)
    other = case.study.model_copy(
        update={"target": case.study.target.model_copy(update={"angle_target_arcsec": target})}
    )
    answer = solve(other)
    if not answer.rings:
        return None
    made = draft(case, draw, certify(other, answer))
    made.certificate["study_sha256"] = case.study.fingerprint()
    made.certificate["title"] = case.study.title
    return restated(case, made) if draw.random() < 0.8 else made


def limits(case: Case, draw: random.Random) -> Draft | None:
    """Multipliers of limits, cutters and head counts that are not there, or moved from one to another."""
    made = draft(case, draw)
    stage = made.stage(draw, steps=1)
    if stage is None:
        return None
    there = [*(f"held {wish}" for wish in case.order), *(f"wishes.{w}_max" for w in case.order)]
    there += [
        "wishes.material_max_kg",
        "robots[0].tool_point_target_um",
        "robots[1].tool_point_target_um",
    ]
    joints = list(stage["steps"][0]["joints"])
    for step in stage["steps"]:
        size = draw.randint(0, step["scale"])
        turn = draw.randrange(4)
        if turn == 0:
            step["whole_limits"][draw.choice(there)] = size
        elif turn == 1:
            step["real_limits"][draw.choice(there)] = size * draw.choice((1e-3, 1.0, 1e3))
        elif turn == 2:
            owner = draw.choice(list(step["cutters"]) or ["1 mm"])
            step["cutters"].setdefault(owner, {})[draw.choice(joints)] = size
        else:
            counts = step["heads"].setdefault(draw.choice(joints), {})
            counts[str(draw.randint(1, 4))] = draw.choice((-1, 1)) * size
    return restated(case, made)


def counts(case: Case, draw: random.Random) -> Draft | None:
    """What a round is said to come to, and a listing that is not one."""
    made = restated(case, draft(case, draw))
    stage = made.stage(draw, steps=1)
    if stage is None:
        return None
    last = stage["steps"][-1]
    if draw.random() < 0.7:
        last["rows_left"] = draw.choice((0, 1, max(0, last["rows_left"] - 1)))
    if draw.random() < 0.7:
        last["lower_bound_scaled"] = last["scale"] * stage["value"]
    stage["proof"] = draw.choice(("multipliers", "listing"))
    return made


Kind = Callable[[Case, random.Random], Draft | None]
KINDS: dict[str, Kind] = {
    kind.__name__: kind
    for kind in (
        material_unit, money_unit, value, multipliers, rows, held, steps, other_study, limits, counts,
    )
}  # fmt: skip


def found(case: Case, made: Draft) -> Found:
    """Return what becomes of a forgery. FORGED: some stage is verified though it is not the truth."""
    known = made.read()
    if known is None:
        return "unreadable"
    answer, certificate = known
    seen = verify_certificate(case.study, answer, certificate)
    before: dict[Wish, int] = {}
    units = {stage.wish: stage.unit for stage in case.best.proof.stages}
    for verdict, stage in zip(seen.stages, answer.proof.stages, strict=False):
        honest = stage.unit == units[stage.wish] and not seen.faults
        if verdict.state == "verified" and not (
            honest and stage.value == case.least(stage.wish, before)
        ):
            return "FORGED"
        before[stage.wish] = stage.value
    if seen.complete:
        return "true"
    return "refused" if seen.refused else "not verified"
