"""Checks a certificate against its study without any solver: the rows are made anew, the rest is sums.

Every ring of the study is made and rated again. The answer's rings are looked up among them and added up:
they must reach the values that the certificate states and keep every limit. Then, wish by wish, the
multipliers are tried on the rows (`duality`): a proof is accepted only if it shows that no smaller value is
possible. The units in which material and money are counted follow from the rows: in a coarser one, rounding
would hide a better answer. Nothing of the search is believed; of the reduction only where a stage says
"sifted".
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from ringset.catalogue.enumerate import catalogue
from ringset.rating.rate import rate
from ringset.rating.rated import Weighed
from ringset.rating.robot_sums import rated_ring_count
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.table import Table
from ringset.reduction.units import Units, reduction_units
from ringset.schema.answer import Answer, JointRing, stage_unit
from ringset.schema.gives import WeighedSum
from ringset.schema.study import Study
from ringset.verification.certificate.claims import (
    Claim,
    certificate_claims,
    certificate_give_mismatches,
)
from ringset.verification.certificate.constraints import (
    ORDER_ROOM,
    certificate_line_total,
    certificate_wish_line,
)
from ringset.verification.certificate.document import (
    SEARCHED,
    Certificate,
    ChosenRing,
    StageProof,
)
from ringset.verification.certificate.duality import NoProof
from ringset.verification.certificate.names import Names
from ringset.verification.certificate.rounds import replayed_certificate_rounds
from ringset.verification.certificate.tree import replay_certificate_tree

State = Literal["verified", "not verified", "refused"]
_OTHER_STAGES = "stages: given others than the answer's, or than the study's wishes"


@dataclass(frozen=True)
class Verdict:
    """What is found of one stage."""

    wish: str
    state: State
    text: str


@dataclass(frozen=True)
class Verification:
    """What is found of a certificate: faults of the whole, and a verdict on every stage."""

    faults: list[str]
    stages: list[Verdict] = field(default_factory=list)

    @property
    def refused(self) -> bool:
        """Whether something stated is not so."""
        return bool(self.faults) or any(stage.state == "refused" for stage in self.stages)

    @property
    def complete(self) -> bool:
        """Whether every stage is verified."""
        return not self.refused and all(stage.state == "verified" for stage in self.stages)


def verify_certificate(study: Study, answer: Answer, certificate: Certificate) -> Verification:
    """Return what a certificate proves of an answer to a study."""
    study = study.canonical()
    if not answer.rings:
        return Verification(
            ["answer: given one without rings; allowed: one with rings to prove best"]
        )
    if certificate.seal != certificate.sealed().seal:
        return Verification(["seal: given another than that of the content; the file was changed"])
    faults = _mismatches(study, answer, certificate)
    if faults:
        return Verification(faults)
    rated = rate(study, catalogue(study))
    rated = rated.take(rated.inside)
    return verify_certificate_on_rows(
        study, answer, certificate, rated, reduction_table(study, rated)
    )


def verify_certificate_on_rows(
    study: Study, answer: Answer, certificate: Certificate, rated: Weighed, table: Table
) -> Verification:
    """Return what `verify_certificate` does, from a canonical study's rows inside all limits and their table.

    The seal says only whether a file was changed, so a certificate that was never written may lack it.
    """
    faults = _mismatches(study, answer, certificate)
    if faults:
        return Verification(faults)
    names = Names(study.shop, rated)
    chosen = certified_answer_rows(rated, answer)
    if chosen is None:
        return Verification(["answer: given a ring that the study does not allow on its joint"])
    units = reduction_units(table)
    faults = [
        *_other_counts(answer, rated),
        *_other_units(study, answer, certificate, units),
        *certificate_give_mismatches(study, answer, units),
    ]
    claims = [] if faults else certificate_claims(study, answer, units)
    faults += [] if faults else [*_other_claims(certificate, claims)]
    faults += [] if faults else [*_not_reached(table, chosen, claims)]
    faults += [] if faults else [*_untrue_values(table, chosen, answer, claims)]
    if faults:
        return Verification(faults)
    verdicts = []
    for claim, stage in zip(claims, certificate.stages, strict=True):
        verdict = _verdict(table, names, claim, stage)
        if verdict.state == "verified" and claim.alone:
            verdict = _with_witness(
                table, chosen, certified_rows(rated, stage.reached_by), claim, verdict
            )
        verdicts.append(verdict)
    return Verification([], verdicts)


def certified_answer_rows(rated: Weighed, answer: Answer) -> NDArray[np.intp] | None:
    """Return the answer's rings as rows, one per joint; None if one of them is not there."""
    return certified_rows(rated, answer.rings)


def certified_rows(
    rated: Weighed, rings: Sequence[JointRing] | Sequence[ChosenRing]
) -> NDArray[np.intp] | None:
    """Return rings as rows, one per joint; None if one of them is not there."""
    joint = {(ref.robot.name, ref.joint.name): i for i, ref in enumerate(rated.catalogue.joints)}
    near = _rows_with_teeth(rated, [(joint.get((r.robot, r.joint), -1), r.teeth) for r in rings])
    rows = rated.catalogue.take(near)
    columns = zip(
        rows.joint.tolist(), rows.module_mm().tolist(), rows.teeth.tolist(),
        rows.bore_mm().tolist(), rows.heads.tolist(), rows.partner_teeth().tolist(), strict=True,
    )  # fmt: skip
    place = dict(zip(columns, near.tolist(), strict=True))
    chosen = [
        place.get(
            (
                joint.get((r.robot, r.joint), -1),
                r.module_mm,
                r.teeth,
                r.bore_mm,
                r.heads,
                _second(r),
            ),
            -1,
        )
        for r in rings
    ]
    found = np.array(chosen, dtype=np.intp)
    if len(found) != len(rows.joints) or (found < 0).any():
        return None
    joints = rated.catalogue.joint[found]
    return found if len(np.unique(joints)) == len(found) else None


def _rows_with_teeth(rated: Weighed, wanted: list[tuple[int, int]]) -> NDArray[np.intp]:
    """Return the rows with one of these pairs of joint and tooth count."""
    rows, most = rated.catalogue, 1 + max((teeth for _, teeth in wanted), default=0)
    keys = [joint * most + teeth for joint, teeth in wanted if joint >= 0]
    few = rows.teeth < most
    return np.flatnonzero(few & np.isin(rows.joint * most + rows.teeth, keys))


def _second(ring: JointRing | ChosenRing) -> int:
    """Return the teeth of a ring's second ring, 0 for none."""
    if isinstance(ring, ChosenRing):
        return ring.second_teeth or 0
    told = ring.electronics.second_ring
    return 0 if told is None else told.teeth or 0


def _mismatches(study: Study, answer: Answer, certificate: Certificate) -> list[str]:
    """Return where certificate, answer and study speak of different things."""
    faults = []
    print_of_study = study.fingerprint()
    for name, given in (("certificate", certificate), ("answer", answer)):
        if given.study_sha256 != print_of_study:
            faults.append(f"{name}.study_sha256: given that of another study")
    if certificate.title != study.title:
        faults.append("title: given another than the study's")
    order = [stage.wish for stage in answer.proof.stages]
    if order != study.wishes.order or [s.wish for s in certificate.stages][: len(order)] != order:
        faults.append(_OTHER_STAGES)
    faults += [
        f"{stage.wish}: given another note than its proof has"
        for stage in certificate.stages
        if stage.note not in _notes(stage)
    ]
    return faults


def _other_claims(certificate: Certificate, claims: list[Claim]) -> Iterator[str]:
    """Yield where a certificate is of other claims than the answer makes."""
    given = [(s.wish, s.sum, s.again, s.value, s.bound, s.unit) for s in certificate.stages]
    asked = [(c.stage, _sum_name(c), c.again, c.value, c.bound, c.unit) for c in claims]
    if given != asked:
        yield _OTHER_STAGES
        return
    for stage, claim in zip(certificate.stages, claims, strict=True):
        if stage.held != claim.held_by_name or stage.ceilings != claim.ceilings:
            yield f"{stage.wish}: given other ceilings or held wishes than the study's"
        if stage.reached_by and not claim.alone:
            yield f"{stage.wish}: given rings that reach its value beside those of the answer"


def _sum_name(claim: Claim) -> str | None:
    return str(claim.wish) if isinstance(claim.wish, WeighedSum) else None


def _notes(stage: StageProof) -> tuple[str, ...]:
    """Return what may stand beside a proof: nothing, or that it came from search, and why."""
    return tuple(SEARCHED.values()) if stage.proof == "search" else ("",)


def _other_units(
    study: Study, answer: Answer, certificate: Certificate, units: Units
) -> Iterator[str]:
    """Yield where material or money is counted in another unit than the rows ask."""
    about_money = "cost" in study.wishes.order
    for name, given, asked in (
        ("certificate.material_unit_kg", certificate.material_unit_kg, units.material_kg),
        ("answer.proof.material_unit_kg", answer.proof.material_unit_kg, units.material_kg),
        ("certificate.cost_unit", certificate.cost_unit, units.cost if about_money else None),
        (
            "answer.proof.cost_unit",
            answer.proof.cost_unit,
            units.cost if study.shop.prices else 0.0,
        ),
    ):
        if given != asked:
            yield f"{name}: given {given!r}; allowed: {asked!r}, as the rings of the study ask"
    for stage in answer.proof.stages:
        unit = stage_unit(stage.wish, units.material_kg, units.cost)
        if stage.unit != unit:
            yield f"{stage.wish}: given in {stage.unit}; allowed: {unit}"


def _other_counts(answer: Answer, rated: Weighed) -> Iterator[str]:
    """Yield where the answer tells of other numbers of rings and rows than are inside all limits."""
    asked = {
        "rings_possible": rated_ring_count(rated),
        "rows_possible": len(rated.catalogue),
    }
    for name, count in asked.items():
        given = getattr(answer.proof, name)
        if given != count:
            yield f"answer.proof.{name}: given {given}; allowed: {count}, as the study has"


def _not_reached(table: Table, chosen: NDArray[np.intp], claims: list[Claim]) -> list[str]:
    """Return which stated values and limits the answer's own rings miss."""
    faults = []
    for claim in claims:
        reached, broken = _totals(table, chosen, claim)
        if reached != claim.value and not claim.alone:
            faults.append(f"{claim.wish}: given {claim.value}; the answer comes to {reached}")
        faults += [f"{claim.wish}: the answer does not keep {name}" for name in broken]
    return faults


def _untrue_values(
    table: Table, chosen: NDArray[np.intp], answer: Answer, claims: list[Claim]
) -> Iterator[str]:
    """Yield which values the answer states beside those of its claims that its own rings do not come to.

    Of a wish that is given up, or minimised in a sum, the claim may be of another value than the answer's.
    """
    for stage in answer.proof.stages:
        line = certificate_wish_line(table, claims[0].sizes, stage.wish)
        reached = int(certificate_line_total(table, line, chosen))
        if stage.value != reached:
            yield f"{stage.wish}: given {stage.value}; the answer comes to {reached}"


def _totals(table: Table, rows: NDArray[np.intp], claim: Claim) -> tuple[int, list[str]]:
    """Return what rows come to in a claim's wish, and the limits that they break."""
    wish, lines = claim.lines(table)
    broken = [
        line.name
        for line in lines
        if certificate_line_total(table, line, rows)
        > (line.right if line.whole else line.right * (1.0 + ORDER_ROOM))
    ]
    return int(certificate_line_total(table, wish, rows)), broken


def _with_witness(
    table: Table, chosen: NDArray[np.intp], witness: NDArray[np.intp] | None, claim: Claim, verdict: Verdict
) -> Verdict:  # fmt: skip
    """Return the verdict on a least that the answer may pass: some rings must reach it, too."""
    if _totals(table, chosen, claim)[0] == claim.value:
        return verdict
    if witness is not None and _totals(table, witness, claim) == (claim.value, []):
        return verdict
    return Verdict(verdict.wish, "not verified", f"no rings are given that come to {claim.value}")


def _verdict(table: Table, names: Names, claim: Claim, stage: StageProof) -> Verdict:
    """Return whether the steps of a stage prove its value."""
    if stage.proof == "search":
        gap = "" if stage.value == stage.bound else f"; only {stage.bound} is claimed"
        return Verdict(stage.wish, "not verified", f"{stage.note}{gap}")
    if stage.value != stage.bound or stage.rows == "none":
        return Verdict(stage.wish, "refused", "a proof is stated of what is not claimed")
    try:
        return _replayed(claim.table(table, stage.rows), names, claim, stage)
    except NoProof as error:
        return Verdict(stage.wish, "refused", str(error))


def _replayed(table: Table, names: Names, claim: Claim, stage: StageProof) -> Verdict:
    rest = claim.allowed(table)
    if rest.empty:  # the answer at hand has a row of every joint, so this would prove too much
        raise NoProof("a joint has no row to begin with")
    how = f"on all {len(table)} rows" if stage.rows == "all" else (
        f"on {len(table)} rows after the reduction"
    )  # fmt: skip
    more = ""
    replayed = replayed_certificate_rounds(rest, names, claim, stage.steps)
    if stage.proof == "tree":
        if replayed.last is not None and replayed.last.proven:
            raise NoProof("a tree is stated where the steps prove all")
        replay_certificate_tree(replayed.rest, names, claim, stage.tree)
        more = f", split into {len(stage.tree)} nodes"
    elif stage.tree:
        raise NoProof("nodes are given where no tree is stated")
    elif not stage.steps:
        raise NoProof("no step is given")
    elif stage.proof == "multipliers":
        replayed.refuse_unproven()
    else:
        replayed.refuse_unlisted(claim)
        more = ", the rest listed"
    return Verdict(
        stage.wish, "verified", f"nothing below {stage.value} ({stage.unit}), {how}{more}"
    )
