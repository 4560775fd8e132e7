"""The two files of an open proof as text: the formula (OPB) and the proof (VeriPB, version 2.0 or 3.0).

OPB states constraints as sum of numbers times variables >= right; ours are turned round for it. The lines of
the proof are `pol` (a sum of constraints, each so many times), `rup` (what unit propagation shows), `red`
(what a new variable means) and `del id`. Constraints are numbered from 1, those of the formula first.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

from ringset.verification.open_proofs.program import OpenProgram

VeripbVersion = Literal["2.0", "3.0"]


def opb_text(program: OpenProgram, head: Sequence[str]) -> str:
    """Return the formula of a program; the lines of `head` stand at the top as comments."""
    lines = [f"* #variable= {program.columns.count} #constraint= {len(program.all)}"]
    lines += [f"* {line}" for line in head]
    told = ""
    for said, row in program.all:
        if said != told:
            lines.append(f"* {said}")
        told = said
        terms = zip(row.numbers.tolist(), row.columns.tolist(), strict=True)
        left = " ".join(f"{-number:+d} x{column + 1}" for number, column in terms)
        lines.append(f"{left} >= {-row.right} ;".lstrip())
    return "\n".join(lines) + "\n"


class ProofText:
    """A proof that grows line by line."""

    def __init__(self, given: int, version: VeripbVersion) -> None:
        self.last = given
        self._kept: list[int] = []
        self._ends = ";" if version == "3.0" else ""
        self._lines = [f"pseudo-Boolean proof version {version}", f"f {given}{self._ends}"]

    def __len__(self) -> int:
        """Return how many lines there are that show something."""
        return sum(line.startswith(("pol", "red", "rup")) for line in self._lines)

    def combine(self, weights: Mapping[int, int], operations: Iterable[str] = ()) -> int:
        """Write a sum of constraints by number and how often; returns its number.

        What all weights have in common is left out. `operations` follow in reverse Polish notation.
        """
        common = math.gcd(*weights.values())
        words: list[str] = []
        for place, (number, many) in enumerate(sorted(weights.items())):
            words.append(f"{number}" if many == common else f"{number} {many // common} *")
            if place:
                words.append("+")
        return self._write("pol", [*words, *operations])

    def conclude(self, literals: Iterable[str]) -> int:
        """Write that one of some literals is true, as unit propagation shows; returns its number."""
        terms = [f"1 {literal}" for literal in literals]
        if self._ends:
            return self._write("rup", [*terms, ">= 1"])
        return self._write("rup", [*terms, ">= 1 ;"])

    def define(self, constraint: str, name: str, value: int) -> int:
        """Write a constraint that holds by itself where a new variable has a value; returns its number."""
        between = ":" if self._ends else ";"
        return self._write("red", [constraint, between, f"{name} -> {value}"])

    def forget_since(self, number: int) -> None:
        """Write that what came after a constraint is needed no longer, but for the last one."""
        gone = [one for one in self._kept if number < one < self.last]
        if gone:
            self._lines.append(f"del id {' '.join(map(str, gone))}{self._ends}")
            self._kept = [one for one in self._kept if one <= number] + [self.last]

    def _write(self, rule: str, words: Iterable[str]) -> int:
        self._lines.append(f"{rule} {' '.join(words)}{self._ends}")
        self.last += 1
        self._kept.append(self.last)
        return self.last

    def text(self) -> str:
        """Return the whole proof, whose last constraint is the contradiction."""
        end = ["output NONE", f"conclusion UNSAT : {self.last}", "end pseudo-Boolean proof"]
        return "\n".join([*self._lines, *(line + self._ends for line in end)]) + "\n"
