"""Rounds of multipliers tried on rows one after the other: what each proves, and the rows that it leaves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ringset.schema.gives import Aim
from ringset.verification.certificate.claims import Claim
from ringset.verification.certificate.constraints import RowsInQuestion, certificate_wish_line
from ringset.verification.certificate.document import Multipliers
from ringset.verification.certificate.duality import (
    NoProof,
    Priced,
    Step,
    certificate_outcome_of_prices,
    certified_allowed_rows,
)
from ringset.verification.certificate.listed import certificate_better_listed
from ringset.verification.certificate.names import Names


@dataclass(frozen=True)
class Round:
    """One step tried on the rows in question: what it proves and what it leaves."""

    priced: Priced
    left: RowsInQuestion
    below: int
    proven: bool


def try_certificate_step(
    rest: RowsInQuestion, step: Step, claim: Claim, bounds: Aim | str | None = None
) -> Round:
    """Return what a step does; raises NoProof where it cannot be used.

    It bounds the claim's own wish, and refutes all values below the claim; or a wish that is held, and
    then only drops rows that no answer uses which holds it.
    """
    aim = claim.wish if bounds is None else claim.aim_named(str(bounds))
    if aim is None:
        raise NoProof(f"multipliers that bound {bounds}, which is not held")
    own, bounded = aim == claim.wish, rest
    if own:
        below = rest.below(claim.value)
    else:
        below = claim.held[aim]
        bounded = replace(rest, wish=certificate_wish_line(rest.table, claim.sizes, aim))
    price = certificate_outcome_of_prices(bounded, step, claim.heads_max)
    left = certified_allowed_rows(rest.take(price.possible(below)), claim.heads_max)
    kept = np.isin(rest.table.index, left.table.index)
    proven = (own and price.refutes(below)) or left.empty
    return Round(price.take(kept), left, below, proven)


@dataclass(frozen=True)
class Replayed:
    """Rounds that were replayed: the last of them, what it bounds, and the rows left."""

    last: Round | None
    bounds: str
    rest: RowsInQuestion

    def refuse_unproven(self) -> None:
        """Raise NoProof unless the last round proves the claim."""
        if self.last is None or not self.last.proven:
            raise NoProof(f"the steps leave {len(self.rest.table)} rows, so they prove nothing")

    def refuse_unlisted(self, claim: Claim) -> None:
        """Raise NoProof unless a list of all answers left holds none below the claim."""
        last = self.last
        if last is None or last.proven or self.bounds != str(claim.wish):
            raise NoProof("a listing is stated where nothing is left to list")
        better = certificate_better_listed(self.rest, last.priced, last.below)
        if better is None:
            raise NoProof("too many answers are left to be listed")
        if better:
            raise NoProof(f"an answer of {last.below} or less is among those left")


def replayed_certificate_rounds(
    rest: RowsInQuestion, names: Names, claim: Claim, steps: Sequence[Multipliers]
) -> Replayed:
    """Return what rounds come to; raises NoProof where one of them does not come to what it states."""
    last = None
    for number, given in enumerate(steps, start=1):
        if last is not None and last.proven:
            raise NoProof(f"step {number}: given after the proof was complete")
        last = try_certificate_step(rest, names.read(given), claim, given.bounds)
        bound, rows = certified_round_outcome(last)
        if (given.lower_bound_scaled, given.rows_left) != (bound, rows):
            said = f"a bound of {given.lower_bound_scaled} and {given.rows_left} rows left"
            raise NoProof(f"step {number}: given {said}; found {bound} and {rows}")
        rest = last.left
    return Replayed(last, steps[-1].bounds if steps else "", rest)


def certified_round_outcome(tried: Round) -> tuple[int, int]:
    """Return what a round is stated to come to: its scaled bound and the rows left."""
    return tried.priced.least, 0 if tried.proven else len(tried.left.table)
