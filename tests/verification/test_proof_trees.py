"""Proofs by splitting: what rounds of multipliers leave is split until every node is closed.

Trees are forced by leaving out the rounds before them (`tests/support/forged_trees.py`). The truth is the
list of all answers: a tree of the best answer is verified, none of another one is, whatever a forger does.
"""

from __future__ import annotations

import json
import random
from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import islice
from types import SimpleNamespace

import numpy as np
import pytest

from ringset.schema.loading import load_model
from ringset.solving import proof_tree
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.claims import certificate_claims
from ringset.verification.certificate.document import SEARCHED, Certificate, Node
from ringset.verification.certificate.names import Names
from ringset.verification.certificate.verify import verify_certificate
from tests.support.forged_trees import (
    REFUSED,
    REWRITTEN,
    TreeForger,
    certificate_of_trees,
    forced_trees,
    restated_tree,
)
from tests.support.forgeries import Case, case_of, cases, draft
from tests.support.narrow import present
from tests.support.second_rings import paired_study
from tests.support.studies import load
from tests.support.tiers import campaign, slow

ANSWERS_MAX = 120
#: Cases whose forced trees have all kinds of nodes; the first two are smaller.
SEEDS = (50_339, 50_204, 50_111)
Grown = tuple[Case, Certificate]


@pytest.fixture(scope="module", name="grown")
def _grown() -> list[Grown]:
    """Studies of which some stage is proven by a tree of 29 nodes or more."""
    made = [(case, certificate_of_trees(case.study, case.best)) for case in known(SEEDS[1:])]
    assert all(with_trees(certificate, 29) for _, certificate in made)
    return made


def known(seeds: Iterable[int]) -> Iterator[Case]:
    """Yield the cases of some seeds that are known to have one."""
    return (present(case_of(seed, priced=seed % 2 == 1)) for seed in seeds)


def few_answers(first: int) -> Iterator[Case]:
    """Yield cases of few answers: without rounds and lists a tree comes near to a list of all."""
    return (case for case in cases(first) if len(case.answers.picks) <= ANSWERS_MAX)


def with_trees(certificate: Certificate, nodes: int) -> list[int]:
    """Return which stages have trees of at least so many nodes."""
    return [n for n, stage in enumerate(certificate.stages) if len(stage.tree) >= nodes]


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize(
    ("first", "many"),
    [(0, 2), campaign(52_000, 4), *(campaign(first, 12) for first in range(52_000, 60_000, 1_000))],
)
def test_forced_trees_prove_the_best_of_all_listed_answers(first: int, many: int) -> None:
    seen: Counter[str] = Counter()
    for case in islice(few_answers(first) if first else known(SEEDS), many):
        best = case.answers.best(case.order, case.study.wishes.ceilings())
        assert [stage.value for stage in case.best.proof.stages] == best
        with forced_trees():
            certificate = certify(case.study, case.best)
            read = load_model(Certificate, certificate.to_json())
            assert read == certificate
            assert verify_certificate(case.study, case.best, read).complete, case.seed
        for stage in certificate.stages:
            seen[stage.proof] += 1
            seen.update(node.closed for node in stage.tree)
            seen.update(node.split.by for node in stage.tree if node.split is not None)
    assert seen["tree"] >= 2 * many
    assert seen["split"] >= 8 * many
    assert min(seen["heads"] + seen["amount"], seen["joints"] + seen["ring_parts"]) >= many
    assert seen["empty"] >= many // 4


@pytest.mark.parametrize("seed", [slow(18), *(campaign(seed) for seed in (11, 19, 22))])
def test_trees_of_second_rings_are_verified(seed: int) -> None:
    study = load(paired_study(seed))
    answer = solve(study)
    if not answer.rings:
        return
    with forced_trees(rows_more=25):
        certificate = certify(study, answer)
        assert any(stage.proof == "tree" for stage in certificate.stages)
        assert verify_certificate(study, answer, certificate).complete


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize(
    ("first", "many"),
    [(0, 2), *(campaign(first, 6) for first in range(61_000, 65_000, 1_000))],
)
def test_no_tree_is_found_of_an_answer_that_is_not_the_best(first: int, many: int) -> None:
    tried = 0
    for case in islice(few_answers(first) if first else known(SEEDS), many):
        for place in case.worse[:3]:
            worse = case.answer(int(place), case.units, case.answers)
            with forced_trees():
                certificate = certify(case.study, worse)
                assert not verify_certificate(case.study, worse, certificate).complete
            tried += 1
            assert "search" in {stage.proof for stage in certificate.stages}
    assert tried >= 3 * many // 2


# -- forgeries ---------------------------------------------------------------------------------------


def spoilt(certificate: Certificate, forger: TreeForger, draw: random.Random) -> Certificate | None:
    """Return the certificate with one of its trees forged and sealed anew; None where it cannot be read."""
    data = json.loads(certificate.to_json())
    stage = data["stages"][draw.choice(with_trees(certificate, 3))]
    forger(stage["tree"], draw)
    try:
        return load_model(Certificate, json.dumps(data)).sealed()
    except ValueError:
        return None


def refused_trees(forger: TreeForger, grown: list[Grown], each: int) -> list[bool]:
    """Return of every forgery that can be read whether it is refused; those of no values are none."""
    draw, seen = random.Random(forger.__name__), []
    for case, certificate in grown:
        for _ in range(each):
            made = spoilt(certificate, forger, draw)
            if made is None:
                continue
            with forced_trees():
                seen.append(verify_certificate(case.study, case.best, made).refused)
            told = [stage.value for stage in made.stages]
            assert told == [stage.value for stage in case.best.proof.stages]
    return seen


@pytest.mark.cases(fast=0, slow=4)
@pytest.mark.parametrize("each", [4, campaign(40)])
@pytest.mark.parametrize("forger", REFUSED, ids=lambda forger: forger.__name__)
def test_a_tree_that_was_tampered_with_is_refused(
    forger: TreeForger, each: int, grown: list[Grown]
) -> None:
    """80 forgeries of each kind as a campaign; those that cannot be read are not counted."""
    seen = refused_trees(forger, grown, each)
    assert all(seen)
    assert len(seen) >= 2 * each


@pytest.mark.cases(fast=0, slow=1)
@pytest.mark.parametrize("each", [4, campaign(40)])
@pytest.mark.parametrize("forger", REWRITTEN, ids=lambda forger: forger.__name__)
def test_a_tree_that_was_rewritten_proves_the_same_or_nothing(
    forger: TreeForger, each: int, grown: list[Grown]
) -> None:
    """Two closed children may change places and a split may move by one row: the values stay as they are."""
    seen = refused_trees(forger, grown, each)
    assert sum(seen) >= len(seen) // 4 > 0


def test_trees_of_other_stages_and_studies_are_refused(grown: list[Grown]) -> None:
    for (case, mine), (_, other) in zip(grown, [*grown[1:], grown[0]], strict=True):
        place, theirs = with_trees(mine, 3)[0], with_trees(other, 3)[0]
        stages = list(mine.stages)
        tree = other.stages[theirs].tree
        stages[place] = stages[place].model_copy(update={"tree": tree})
        made = mine.model_copy(update={"stages": stages}).sealed()
        with forced_trees():
            assert verify_certificate(case.study, case.best, made).refused


@pytest.mark.slow
def test_no_forged_tree_proves_an_answer_that_is_not_the_best(grown: list[Grown]) -> None:
    """The forger knows all that the verifier does: every node states what it comes to for his answer."""
    draw, seen = random.Random(17), Counter[str]()
    for case, certificate in grown:
        for _ in range(8):
            made = draft(case, draw, certificate)
            known = made.read()
            if known is None:
                continue
            answer = known[0]
            names = Names(case.study.shop, case.rated)
            claims = certificate_claims(case.study, answer, case.units)
            with forced_trees():
                for claim, stage in zip(claims, made.certificate["stages"], strict=True):
                    if stage.get("tree"):
                        rest = claim.allowed(claim.table(case.table, "all"))
                        stage["steps"] = []
                        stage["tree"] = restated_tree(rest, names, claim, stage["tree"], draw)
                known = made.read()
                assert known is not None
                found = verify_certificate(case.study, *known)
            assert not found.complete
            least = [
                case.least(stage.wish, {s.wish: s.value for s in answer.proof.stages[:number]})
                for number, stage in enumerate(answer.proof.stages)
            ]
            for verdict, stage, best in zip(found.stages, answer.proof.stages, least, strict=False):
                seen[verdict.state] += 1
                assert verdict.state != "verified" or stage.value == best
    assert seen["refused"] >= 12


def test_a_tree_of_more_nodes_than_allowed_is_given_up_with_a_word(grown: list[Grown]) -> None:
    case, certificate = grown[0]
    made = certificate_of_trees(case.study, case.best, nodes=2)
    place = with_trees(certificate, 3)[0]
    assert (made.stages[place].proof, made.stages[place].note) == ("search", SEARCHED["nodes"])
    with forced_trees():
        found = verify_certificate(case.study, case.best, made)
    assert found.stages[place].text == SEARCHED["nodes"]
    assert not found.refused
    assert not found.complete


def test_a_tree_that_takes_too_long_or_too_much_room_is_given_up_with_a_word(
    grown: list[Grown], monkeypatch: pytest.MonkeyPatch
) -> None:
    case, certificate = grown[0]
    place = with_trees(certificate, 3)[0]
    monkeypatch.setattr("ringset.solving.certify.TREES_BYTES_MAX", 10)
    made = certificate_of_trees(case.study, case.best)
    assert made.stages[place].note == SEARCHED["size"]
    monkeypatch.undo()
    monkeypatch.setattr(proof_tree, "time", SimpleNamespace(monotonic=lambda: np.inf))
    made = certificate_of_trees(case.study, case.best)
    assert made.stages[place].note == SEARCHED["time"]


def test_a_node_says_either_how_it_is_split_or_how_it_is_closed(grown: list[Grown]) -> None:
    case, certificate = grown[0]
    place = with_trees(certificate, 3)[0]
    stage = certificate.stages[place]
    split = next(node.split for node in stage.tree if node.split is not None)
    for node in (Node(closed="split"), Node(closed="empty", split=split)):
        stages = list(certificate.stages)
        stages[place] = stage.model_copy(update={"tree": [node, *stage.tree[1:]]})
        made = certificate.model_copy(update={"stages": stages}).sealed()
        with forced_trees():
            assert (
                "node 1: a split is stated"
                in verify_certificate(case.study, case.best, made).stages[place].text
            )
