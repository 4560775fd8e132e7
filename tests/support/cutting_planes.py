"""A small checker of cutting-planes proofs: an OPB file and a VeriPB proof of it, version 2.0 or 3.0.

It imports nothing of the product and no library: whoever reads this file, `pseudo_boolean` and
`unit_propagation` has read all that a proof is trusted to. Numbers are Python's integers, so nothing
overflows. A constraint is held as

    sum of a(x) x >= right,    with a whole number a(x) other than 0 for every variable x of it, each 0 or 1,

and, as all rules of the format are told, in its normal form: literals x or ~x = 1 - x, all numbers above 0,
degree = right + sum of |a(x)| over the a(x) below 0. What is understood: `f`, `pol` (with + * d s w and
literals), `rup` (without hints), `red` of one variable, `del id`, and the ending `output NONE`,
`conclusion UNSAT : id`, `end pseudo-Boolean proof`. All else is refused, also a proof without this end.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from tests.support.pseudo_boolean import (
    NAME,
    Inequality,
    ProofRefused,
    read_inequalities,
    read_opb,
)
from tests.support.unit_propagation import Propagation, Watched


class Checker:
    """The constraints of a formula and of its proof so far, by number."""

    def __init__(self, formula: Iterable[Inequality]) -> None:
        self.known: dict[int, Inequality] = {}
        self.last = 0
        self._watched: dict[int, Watched] = {}
        self._propagation = Propagation()
        for constraint in formula:
            self.add(constraint)

    def add(self, constraint: Inequality) -> None:
        """Take a constraint that is given or proven."""
        self.last += 1
        self.known[self.last] = constraint
        self._watched[self.last] = self._propagation.watch(constraint)

    def of_number(self, number: int) -> Inequality:
        """Return a constraint by its number; one below 0 counts from the last."""
        number = self.last + 1 + number if number < 0 else number
        if number not in self.known:
            raise ProofRefused(f"constraint {number}, which is not there")
        return self.known[number]

    def pol(self, words: list[str]) -> None:
        """Add what a line in reverse Polish notation comes to."""
        stack: list[Inequality | int | str] = []
        for word in words:
            self._operate(stack, word)
        if len(stack) != 1:
            raise ProofRefused("a line that leaves no one constraint")
        self.add(self._constraint(stack.pop()))

    def _operate(self, stack: list[Inequality | int | str], word: str) -> None:
        if word in ("+", "*", "d", "w", "s") and len(stack) < 2 - (word == "s"):
            raise ProofRefused(f"{word} with too little before it")
        if word == "+":
            other, one = (self._constraint(stack.pop()) for _ in "ab")
            stack.append(one.plus(other))
        elif word in ("*", "d"):
            number = stack.pop()
            if not isinstance(number, int):
                raise ProofRefused(f"{word} by what is no number")
            one = self._constraint(stack.pop())
            stack.append(one.times(number) if word == "*" else one.divided(number))
        elif word == "w":
            name = stack.pop()
            if not isinstance(name, str) or name.startswith("~"):
                raise ProofRefused("w of what is no variable")
            stack.append(self._constraint(stack.pop()).weakened(name))
        elif word == "s":
            stack.append(self._constraint(stack.pop()).saturated())
        elif re.fullmatch(r"-?\d+", word):
            stack.append(int(word))
        elif re.fullmatch(f"~?{NAME}", word):
            stack.append(word)
        else:
            raise ProofRefused(f"{word!r} in a line of pol")

    def _constraint(self, item: Inequality | int | str) -> Inequality:
        if isinstance(item, Inequality):
            return item
        if isinstance(item, int):
            known = self.of_number(item)
            return Inequality(dict(known.numbers), known.right)  # a copy, which `plus` may use up
        return _axiom(item)

    def rup(self, constraint: Inequality) -> None:
        """Add a constraint whose opposite runs into a conflict by unit propagation."""
        self._propagation.settle(self._watched.values())
        if not self._propagation.refutes(constraint.negated()):
            raise ProofRefused("unit propagation finds no conflict")
        self.add(constraint)

    def red(self, constraint: Inequality, name: str, value: int) -> None:
        """Add a constraint that values of the variables can be made to meet by setting one of them anew.

        Where they do not meet it, `name` is set to `value`: they must meet it then, and all constraints of
        this variable that they have met before. Each of these must follow at once from the opposite.
        """
        opposite = constraint.negated()
        asked = [one for one in self.known.values() if name in one.numbers]
        if not _holds(constraint.with_value(name, value)):
            raise ProofRefused(f"{name} = {value} does not meet the constraint")
        for one in asked:
            if not _follows(one.with_value(name, value), opposite):
                raise ProofRefused(f"{name} = {value} may break another constraint")
        self.add(constraint)

    def delete(self, numbers: Iterable[int]) -> None:
        """Take constraints out of use."""
        gone = []
        for number in numbers:
            if self.known.pop(number, None) is None:
                raise ProofRefused(f"constraint {number} deleted, which is not there")
            gone.append(self._watched.pop(number))
        self._propagation.forget(gone, self._watched.values())


def _holds(one: Inequality) -> bool:
    """Say whether all values of the variables meet a constraint."""
    return one.degree <= 0


def _follows(one: Inequality, known: Inequality) -> bool:
    """Say whether a constraint holds by itself, or follows from another by adding literals alone."""
    names = one.numbers.keys() | known.numbers.keys()
    apart = (one.numbers.get(x, 0) - known.numbers.get(x, 0) for x in names)
    return _holds(one) or known.right + sum(min(0, a) for a in apart) >= one.right


def _axiom(literal: str) -> Inequality:
    """Return literal >= 0."""
    if literal.startswith("~"):
        return Inequality({literal[1:]: -1}, -1)
    return Inequality({literal: 1}, 0)


def _proof_lines(text: str) -> Iterator[str]:
    """Yield the lines of a proof without comments and, in version 3.0, without their semicolons."""
    head, _, body = text.partition("\n")
    if head == "pseudo-Boolean proof version 3.0":
        plain = re.sub(r"%[^\n]*", "", body)
        *lines, rest = plain.split(";")
        if rest.strip():
            raise ProofRefused("the proof ends within a line")
        yield from (" ".join(line.split()) for line in lines)
    elif head == "pseudo-Boolean proof version 2.0":
        for line in body.splitlines():
            if line.strip() and not line.startswith("*"):
                yield " ".join(line.removesuffix(";").split())
    else:
        raise ProofRefused(f"{head[:60]!r}, which is no version known here")


def check_proof(formula: str, proof: str) -> int:
    """Return how many lines show that no values of the variables meet a formula; else raise ProofRefused."""
    given = read_opb(formula)
    checker = Checker(given)
    ending = ["output NONE", "conclusion UNSAT : ", "end pseudo-Boolean proof"]
    count = 0
    for count, line in enumerate(_proof_lines(proof), start=1):
        if not ending:
            raise ProofRefused("a line after the end")
        try:
            _check_line(checker, len(given), line, count, ending)
        except ProofRefused as refused:
            raise ProofRefused(f"line {count}: {refused}") from None
    if ending:
        raise ProofRefused("the proof has no end")
    return count


def _check_line(checker: Checker, given: int, line: str, count: int, ending: list[str]) -> None:
    rule, _, rest = line.partition(" ")
    if rule in ("output", "conclusion", "end"):
        if not line.startswith(ending.pop(0)):
            raise ProofRefused(f"{line!r} out of its place")
        if rule == "conclusion":
            number = line.removeprefix("conclusion UNSAT : ")
            if not re.fullmatch(r"-?\d+", number) or not checker.of_number(int(number)).impossible:
                raise ProofRefused("the conclusion names no contradiction")
        elif line not in ("output NONE", "end pseudo-Boolean proof"):
            raise ProofRefused(f"{line!r}")
    elif len(ending) < 3:
        raise ProofRefused("a line within the ending")
    elif (rule == "f") != (count == 1):
        raise ProofRefused("f must be the first line, and only that")
    elif rule == "f":
        if rest != str(given):
            raise ProofRefused(f"{rest} constraints are stated, {given} are there")
    elif rule == "pol":
        checker.pol(rest.split())
    elif rule == "rup":
        checker.rup(*_one_inequality(rest))
    elif rule == "red":
        told = re.fullmatch(rf"(.*>=.*?) ?[:;] ?({NAME}) -> ([01])", rest)
        if told is None:
            raise ProofRefused("red of what is not one variable")
        (defined,) = _one_inequality(told[1])
        checker.red(defined, told[2], int(told[3]))
    elif line.startswith("del id ") and all(word.isdigit() for word in rest.split()[1:]):
        checker.delete(map(int, rest.split()[1:]))
    else:
        raise ProofRefused(f"the rule {rule!r}, which is not known here")


def _one_inequality(text: str) -> list[Inequality]:
    if ">=" not in text:
        raise ProofRefused("rup of what is no inequality")
    return read_inequalities(text)
