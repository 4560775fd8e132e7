"""Random studies and full solves for what decides an answer: every end solved as a study of its own."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import NamedTuple

from ringset.analysis.assumptions.effects import rank_assumptions
from ringset.analysis.assumptions.outcome import Outcome, assumption_effect_rank, assumption_outcome
from ringset.schema.assumed_inputs import AssumedInput, assumed_inputs, study_with_inputs
from ringset.schema.cross_checks import cross_faults
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.support.studies import Json, random_study


def loosened(seed: int) -> Study:
    """Return the random study of a seed that leaves more at defaults, so that more is assumed."""
    data: Json = random_study(seed)
    data["shop"].pop("clamp_runout_share", None)
    return load_study(json.dumps(data)).canonical()


def solved_end(study: Study, one: AssumedInput, value: object) -> Outcome | None:
    """Return what an end comes to, solved as any study is; None where it cannot be stated."""
    changed = study_with_inputs(study, [(one, value)])  # type: ignore[list-item]
    if next(cross_faults(changed), None) is not None:
        return None
    return assumption_outcome(changed, solve(changed, certified=False))


def true_ranks(study: Study) -> dict[str, tuple[float, ...]]:
    """Return the rank of every input by full solves of both ends."""
    base = assumption_outcome(study, solve(study, certified=False))
    return {
        one.path: assumption_effect_rank(
            study.wishes.order, base, [solved_end(study, one, value) for value in one.ends]
        )
        for one in assumed_inputs(study)
    }


class Screened(NamedTuple):
    """How many of the strongest inputs of some studies were screened, and in how many studies all of them."""

    found: int
    strongest: int
    whole: int
    studies: int

    def __add__(self, other: object) -> Screened:
        assert isinstance(other, Screened)
        return Screened(*(mine + theirs for mine, theirs in zip(self, other, strict=True)))


def screened_share(study: Study) -> Screened:
    """Return how many of the five inputs that are strongest by full solves were solved after the screen.

    Inputs that change nothing are no strong ones; those that change as much as the fifth are as good as it.
    """
    solved = {one.path for one in rank_assumptions(study).inputs if one.solved}
    ranked = sorted(
        ((rank, path) for path, rank in true_ranks(study).items() if any(rank)), reverse=True
    )
    five = ranked[:5]
    found = sum(path in solved for _, path in five)
    others = sum(rank == five[-1][0] and path in solved for rank, path in ranked[5:])
    found = min(len(five), found + others)
    return Screened(found, len(five), int(found == len(five)), 1)


def screened_shares(seeds: Iterable[int]) -> Screened:
    """Return the same over the random studies of some seeds."""
    return sum((screened_share(loosened(seed)) for seed in seeds), Screened(0, 0, 0, 0))
