"""Stages and trees that prove nothing: each is refused with a word on why, on a study of milliseconds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest

from ringset.catalogue.enumerate import catalogue
from ringset.rating.rate import rate
from ringset.reduction.from_ratings import reduction_table
from ringset.schema.answer import Answer
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.document import (
    BY_SEARCH,
    NODES_MAX,
    AmountSplit,
    Certificate,
    CountSplit,
    HeadsSplit,
    Node,
    Split,
    StageProof,
)
from ringset.verification.certificate.verify import (
    Verdict,
    verify_certificate,
    verify_certificate_on_rows,
)
from tests.support.studies import load, small
from tests.verification.conftest import Proven

JOINT = "arm/joint 1"
#: A limit whose multiplier the last stage's step has.
HELD = "held ring_parts"
#: Nobody has nine heads, or a ring of no material.
NINE_HEADS = HeadsSplit(by="heads", joint=JOINT, heads=[9])
NO_MATERIAL = AmountSplit(by="amount", joint=JOINT, line="material", amount=0.0, row=-1)


@pytest.fixture(scope="module", name="proven")
def _proven() -> Proven:
    study = load(small())
    answer = solve(study)
    certificate = certify(study, answer)
    assert {stage.proof for stage in certificate.stages} == {"multipliers"}
    assert verify_certificate(study, answer, certificate).complete
    return study, answer, certificate


def last_stage(certificate: Certificate, **fields: Any) -> Certificate:
    """Return the certificate, sealed anew, with fields of its last stage changed."""
    stages = [*certificate.stages[:-1], certificate.stages[-1].model_copy(update=fields)]
    return certificate.model_copy(update={"stages": stages}).sealed()


def verdict(made: Proven, **fields: Any) -> Verdict:
    """Return what is found of the last stage with some of its fields changed."""
    study, answer, certificate = made
    found = verify_certificate(study, answer, last_stage(certificate, **fields))
    assert found.faults == []
    return found.stages[-1]


def faults(made: Proven, certificate: Certificate, answer: Answer | None = None) -> list[str]:
    study, own, _ = made
    return verify_certificate(study, answer or own, certificate).faults


# -- what is claimed -------------------------------------------------------------------------------


def test_other_claims_than_those_of_study_and_answer_are_refused(proven: Proven) -> None:
    _, answer, certificate = proven
    turned = certificate.model_copy(update={"stages": certificate.stages[::-1]}).sealed()
    assert faults(proven, turned) == [
        "stages: given others than the answer's, or than the study's wishes"
    ]
    assert faults(proven, last_stage(certificate, held={"cutters": 2})) == [
        "material: given other ceilings or held wishes than the study's"
    ]
    ring = {"robot": "arm", "joint": "joint 1", "module_mm": 1.0, "teeth": 88, "bore_mm": 60.0}
    told = {**certificate.stages[-1].model_dump(), "reached_by": [{**ring, "heads": 1}]}
    reached = StageProof.model_validate(told).reached_by
    assert faults(proven, last_stage(certificate, reached_by=reached)) == [
        "material: given rings that reach its value beside those of the answer"
    ]
    coarse = certificate.model_copy(update={"material_unit_kg": 1e-3}).sealed()
    assert faults(proven, coarse) == [
        "certificate.material_unit_kg: given 0.001; allowed: 1e-06, as the rings of the study ask"
    ]
    stages = [*answer.proof.stages[:-1], answer.proof.stages[-1].model_copy(update={"unit": "g"})]
    grams = answer.model_copy(update={"proof": answer.proof.model_copy(update={"stages": stages})})
    assert faults(proven, certificate, grams) == ["material: given in g; allowed: 1e-06 kg"]


def test_rows_at_hand_do_not_spare_a_certificate_its_study(proven: Proven) -> None:
    study, answer, certificate = proven
    study = study.canonical()
    rated = rate(study, catalogue(study))
    rated = rated.take(rated.inside)
    table = reduction_table(study, rated)
    assert verify_certificate_on_rows(study, answer, certificate, rated, table).complete
    other = certificate.model_copy(update={"title": "another"})
    assert verify_certificate_on_rows(study, answer, other, rated, table).faults == [
        "title: given another than the study's"
    ]


def test_a_bound_below_the_value_has_no_proof(proven: Proven) -> None:
    study, answer, certificate = proven
    stages = list(answer.proof.stages)
    stages[-1] = stages[-1].model_copy(update={"bound": stages[-1].value - 1})
    open_ = answer.model_copy(update={"proof": answer.proof.model_copy(update={"stages": stages})})
    told = last_stage(certificate, bound=stages[-1].bound)
    assert verify_certificate(study, open_, told).stages[-1] == Verdict(
        "material", "refused", "a proof is stated of what is not claimed"
    )
    searched = {"proof": "search", "rows": "none", "steps": [], "note": BY_SEARCH}
    told = last_stage(certificate, bound=stages[-1].bound, **searched)
    assert verify_certificate(study, open_, told).stages[-1] == Verdict(
        "material", "not verified", f"{BY_SEARCH}; only {stages[-1].bound} is claimed"
    )


# -- steps -----------------------------------------------------------------------------------------


def test_steps_that_are_not_what_the_stage_says_are_refused(proven: Proven) -> None:
    certificate = proven[2]
    (step,) = certificate.stages[-1].steps
    whole = Node(steps=[step], closed="multipliers")
    for fields, text in (
        ({"steps": []}, "no step is given"),
        ({"steps": [step, step]}, "step 2: given after the proof was complete"),
        ({"proof": "listing"}, "a listing is stated where nothing is left to list"),
        ({"proof": "tree", "tree": [whole]}, "a tree is stated where the steps prove all"),
        ({"tree": [whole]}, "nodes are given where no tree is stated"),
    ):
        assert verdict(proven, **fields) == Verdict("material", "refused", text)


@pytest.mark.parametrize(
    ("fields", "text"),
    [
        ({"bounds": "cost"}, "multipliers that bound cost, which is not held"),
        ({"scale": 2**61}, "a scale that is not a whole number from 1"),
        ({"joints": {"arm/elbow": 1}}, "multipliers of 'arm/elbow', which the study does not know"),
        ({"joints": {JOINT: 2**70}}, "numbers too large to be added safely"),
        ({"joints": {JOINT: 2**60}}, "numbers too large to be added safely"),
        ({"whole_limits": {"weight": 1}}, "multipliers of limits or joints that are not there"),
        ({"whole_limits": {HELD: -1}}, f"{HELD}: a multiplier below 0 or too large"),
        ({"whole_limits": {}, "real_limits": {HELD: 0.5}},
         f"{HELD}: a multiplier that is not a whole number"),
        ({"cutters": {"9 mm": {JOINT: 1}}}, "multipliers of '9 mm', which the study does not know"),
        ({"heads": {JOINT: {-1: 1}}}, "a multiplier of heads on no joint of the rows"),
    ],
)  # fmt: skip
def test_multipliers_that_cannot_be_used_are_refused(
    fields: dict[str, Any], text: str, proven: Proven
) -> None:
    (step,) = proven[2].stages[-1].steps
    found = verdict(proven, steps=[step.model_copy(update=fields)])
    assert (found.state, found.text[: len(text)]) == ("refused", text)


# -- trees -----------------------------------------------------------------------------------------


def tree(proven: Proven, nodes: Sequence[Node]) -> Verdict:
    """Return what is found of the last stage where it is proven by a tree of these nodes."""
    return verdict(proven, proof="tree", steps=[], tree=list(nodes))


def of_all(proven: Proven, split: Split | None = None) -> Node:
    """Return a node with the step that proves the stage."""
    (step,) = proven[2].stages[-1].steps
    return Node(steps=[step], closed="multipliers" if split is None else "split", split=split)


EMPTY = Node(closed="empty")


@pytest.mark.parametrize("split", [NINE_HEADS, NO_MATERIAL], ids=["heads", "amount"])
def test_a_split_with_nothing_on_one_side_is_proven_on_the_other(
    split: Split, proven: Proven
) -> None:
    whole, first = of_all(proven), Node(closed="split", split=split)
    found = tree(proven, [first, EMPTY, whole])
    assert found.state == "verified", found
    assert ", split into 3 nodes" in found.text
    turned = tree(proven, [first, whole, EMPTY])
    assert turned.text == "node 2: a joint has no row left, and more is stated"


def test_more_of_one_cutter_than_there_is_leaves_no_row(proven: Proven) -> None:
    whole, count = of_all(proven), CountSplit(by="cutters", members=["1 mm"], most=9)
    first = Node(closed="split", split=count)
    assert tree(proven, [first, whole, EMPTY]).state == "verified"
    twice = count.model_copy(update={"members": ["1 mm", "1 mm"]})
    found = tree(proven, [Node(closed="split", split=twice), whole, whole])
    assert found.text == "node 1: a split that names one thing twice"


def test_nodes_that_do_not_make_a_tree_are_refused(proven: Proven) -> None:
    whole, first = of_all(proven), Node(closed="split", split=NINE_HEADS)
    strange = NO_MATERIAL.model_copy(update={"line": "weight"})
    elbow = NINE_HEADS.model_copy(update={"joint": "arm/elbow"})
    for nodes, text in (
        ([whole, EMPTY], "node 2: given after the tree was complete"),
        ([first, EMPTY], "1 nodes are not given, so what they hold is not settled"),
        ([of_all(proven, NINE_HEADS)], "node 1: a split is given after the proof was complete"),
        ([Node(closed="split", split=strange)],
         "node 1: a split by 'weight', which is no limit of the rows"),
        ([Node(closed="split", split=elbow)],
         "node 1: a split by 'arm/elbow', which the study does not know"),
    ):  # fmt: skip
        assert tree(proven, nodes) == Verdict("material", "refused", text)
    assert tree(proven, [first, EMPTY, EMPTY]).text.startswith("node 3: said to be empty; found ")
    bare = Node(closed="multipliers")
    assert tree(proven, [first, EMPTY, bare]).text.startswith("node 3: the steps leave ")
    assert tree(proven, [EMPTY] * (NODES_MAX + 1)).text == "a tree of more than 50000 nodes"
