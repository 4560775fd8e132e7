"""Turns the rounds of a certificate into lines that leave no answer of "one unit better".

Of the variables of a program some are known to be 0, or 1 on the path to a node. A sum of constraints with
room R leaves no row whose number in it is above R: unit propagation says so, and likewise for the sums that
add to it what one joint's rows need besides. A node is refuted where R is below 0, where a joint has no row
left, or a robot no pattern of heads.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from ringset.arrays import Ints
from ringset.schema.gives import Aim
from ringset.verification.certificate.claims import Claim
from ringset.verification.certificate.duality import NoProof, Step
from ringset.verification.open_proofs.combination import Alive, Combination, Owners, Tightening
from ringset.verification.open_proofs.formats import ProofText
from ringset.verification.open_proofs.program import (
    RIGHT_BITS,
    LessEqual,
    OpenLimit,
    OpenProgram,
    open_whole_numbers,
)


@dataclass
class Refutation:
    """The lines written for a node, and what they leave.

    `path` are the literals that are assumed on the way to it, `limits` all limits, with those of the path.
    """

    program: OpenProgram
    claim: Claim
    text: ProofText
    tightening: Tightening
    alive: Alive
    limits: dict[str, OpenLimit]
    path: tuple[str, ...] = ()
    closed: bool = False
    latest: Combination | None = field(default=None, repr=False)

    def round(self, step: Step, aim: Aim) -> None:
        """Write what a round of multipliers shows, and what the limits say of the rows it leaves."""
        if self.closed:
            raise NoProof("a step after the proof was complete")
        sum_ = self._priced(step, aim)
        self.tightening.tighten(sum_, self.alive)
        self.latest = sum_
        line = self._use(sum_)
        if not self.closed:
            self._use_owners(sum_, line)
        self._spread()
        self.use_limits()

    def use_limits(self) -> None:
        """Drop the rows that pass a limit even with the least of all other joints, until none is left."""
        before = -1
        while before != int(self.alive.may.sum()) and not self.closed:
            before = int(self.alive.may.sum())
            for sum_ in self.limit_sums():
                if not self.closed:
                    self._use(sum_)
                    self._spread()

    def _priced(self, step: Step, aim: Aim) -> Combination:
        """Return the sum that a round states: K times its wish, and every limit by its multiplier."""
        program, limits = self.program, self.limits
        real = any(many > 0 and not limits[name].whole for name, many in step.lines.items())
        fine = 2 ** (RIGHT_BITS - 1) if real else 1
        if aim == self.claim.wish:
            sum_ = self._better(step.scale * fine)
        else:
            sum_ = Combination(program.variables)
            sum_.add(limits[f"held {aim}"].row, step.scale * fine)
        for name, many in step.lines.items():
            limit = limits[name]
            sum_.add(limit.row, round(Fraction(many) * fine / Fraction(2) ** limit.places))
        for joint, many in enumerate(step.joints.tolist()):
            sum_.add_equation(program.joints[joint], many * fine)
        for known, links in (
            (step.cutters, program.cutter_links), (step.seconds, program.ring_links)
        ):  # fmt: skip
            for pair, many in known.items():
                if pair in links and len(self.alive.among(links[pair].columns[:-1])):
                    sum_.add(links[pair], many * fine)
        for (joint, heads), many in step.heads.items():
            if (joint, heads) in program.heads:
                sum_.add_equation(program.heads[joint, heads].equation, many * fine)
        return sum_

    def _better(self, many: int) -> Combination:
        """Return "one unit better" `many` times; it asks for more where all that is left has a divisor.

        Numbers less the least of every joint are then whole multiples of it, and so is their sum.
        """
        sum_ = Combination(self.program.variables)
        sum_.add(self.program.better, 1)
        self.tightening.tighten(sum_, self.alive)
        alive = sum_.total[self.alive.may]
        step = math.gcd(*alive.tolist())
        scaled = Combination(self.program.variables)
        if step < 2 or sum_.right % step == 0:
            scaled.add(self.program.better, many)
            return scaled
        operations = []
        others = np.flatnonzero((sum_.total % step != 0).astype(np.bool_)).tolist()
        for column in others:  # all of them are 0 here
            number = int(sum_.total[column])
            if number > 0:
                operations += [self.program.name(column), "w"]
                sum_.total[column] = 0
            else:
                sum_.add(self._zero(column), -number)
        line = self.text.combine(sum_.weights(), [*operations, str(step), "d"])
        scaled.add(_divided(sum_.as_row(line), step), many * step)
        for equation, often in sum_.equations.values():  # as the multipliers of a round expect it
            scaled.add_equation(equation, -often * many)
        return scaled

    def _zero(self, column: int) -> LessEqual:
        """Write that a variable is 0 on the path, and return it as a constraint."""
        number = self.text.conclude([f"~{self.program.name(column)}", *self.negated_path()])
        columns, numbers, right = [column], [1], 0
        for literal in self.path:  # 1 - d for d, d for ~d
            columns.append(self.program.column_of(literal.removeprefix("~")))
            numbers.append(-1 if literal.startswith("~") else 1)
            right += not literal.startswith("~")
        return LessEqual(number, np.array(columns), open_whole_numbers(np.array(numbers)), right)

    def negated_path(self) -> list[str]:
        """Return the literals of which one must be true if nothing is left on the path."""
        return [one[1:] if one.startswith("~") else f"~{one}" for one in self.path]

    def _use(self, sum_: Combination) -> int:
        """Write a sum if it drops something or leaves nothing; returns its number, 0 if it is not written."""
        room = self.alive.room(sum_)
        columns = self.alive.among(self._droppable)
        dear = columns[(sum_.total[columns] > room).astype(np.bool_)]
        if room >= 0 and not len(dear):
            return 0
        self.alive.may[dear] = False
        self.closed |= room < 0
        return self.text.combine(sum_.weights())

    def _use_owners(self, sum_: Combination, line: int) -> None:
        """Write a sum (or go on from its line) with the owners of a joint's rows, where that drops more."""
        room, owners = self.alive.room(sum_), Owners(self.program, sum_, self.alive)
        for joint, equation in enumerate(self.program.joints):
            rows = self.alive.among(equation.at_most.columns)
            dear = rows[(sum_.total[rows] + owners.of(rows) > room).astype(np.bool_)]
            if len(dear):
                line = line or self.text.combine(sum_.weights())
                often = math.gcd(*sum_.weights().values())  # as `combine` leaves it out
                self.text.combine({line: often} | owners.of_joint(joint, dear).weights())
                self.alive.may[dear] = False

    @property
    def _droppable(self) -> Ints:
        ways = self.program.columns.of_group
        return np.concatenate([self.program.column, *(ways[g] for g in self.program.groups)])

    def limit_sums(self) -> Iterator[Combination]:
        """Yield every limit with the least of all joints taken off, and with that of head patterns."""
        for limit in self.limits.values():
            sum_ = Combination(self.program.variables)
            sum_.add(limit.row, 1)
            self.tightening.count_with_rows(sum_)
            for group in (None, *self.program.groups):
                of_group = sum_.copy()
                self._count_with_patterns(of_group, group)
                self.tightening.tighten(of_group, self.alive)
                yield of_group

    def _count_with_patterns(self, sum_: Combination, group: int | None) -> None:
        """Let every pattern of a group count the least that the rows with its head counts add."""
        joints = (
            {j for j, _ in self.program.columns.patterns[group][0]} if group is not None else ()
        )
        for (joint, _), shown in self.program.heads.items():
            rows = self.alive.among(shown.rows)
            if joint in joints and len(rows):
                sum_.add_equation(shown.equation, -int(min(sum_.total[rows])))

    def _spread(self) -> None:
        """Drop what follows: head counts without patterns or rows, owners that no row needs any longer."""
        may, before = self.alive.may, -1
        while before != int(may.sum()):
            before = int(may.sum())
            for shown in self.program.heads.values():
                if not may[shown.ways].any():
                    may[shown.rows] = False
                if not may[shown.rows].any():
                    may[shown.ways] = False
        self.tightening.drop_unneeded(self.alive)
        equations = [*self.program.joints, *self.program.groups.values()]
        self.closed |= any(not may[e.at_most.columns].any() for e in equations)


def _divided(row: LessEqual, divisor: int) -> LessEqual:
    """Return a constraint divided as the format divides: all numbers of its normal form rounded up."""
    size = np.array([-(-abs(a) // divisor) for a in row.numbers.tolist()], dtype=np.object_)
    above = (row.numbers > 0).astype(np.bool_)
    degree = sum(row.numbers[above].tolist()) - row.right
    right = sum(size[above].tolist()) + -degree // divisor
    return LessEqual(row.number, row.columns, np.where(above, size, -size), right)
