"""A small checker of cutting-planes proofs: an OPB file and a VeriPB proof of it, version 2.0 or 3.0.

It imports nothing of the product and no library: whoever reads this file has read all that a proof is
trusted to. Numbers are Python's integers, so nothing overflows. A constraint is held as

    sum of a(x) x >= right,    with a whole number a(x) other than 0 for every variable x of it, each 0 or 1,

and, as all rules of the format are told, in its normal form: literals x or ~x = 1 - x, all numbers above 0,
degree = right + sum of |a(x)| over the a(x) below 0. What is understood: `f`, `pol` (with + * d s w and
literals), `rup` (without hints), `del id`, and the ending `output NONE`, `conclusion UNSAT : id`,
`end pseudo-Boolean proof`. All else is refused, an input that does not end there as well.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

Numbers = dict[str, int]
#: A variable with 0 or 1: the literal that says so.
Literal = tuple[str, int]


class ProofRefused(Exception):
    """A proof, or a line of it, that shows nothing."""


@dataclass(frozen=True)
class Inequality:
    """sum of numbers[x] x >= right."""

    numbers: Numbers
    right: int

    @property
    def degree(self) -> int:
        """The right side of the normal form."""
        return self.right - sum(a for a in self.numbers.values() if a < 0)

    @property
    def impossible(self) -> bool:
        """Whether no values of the variables meet it, looked at alone."""
        return sum(map(abs, self.numbers.values())) < self.degree

    def plus(self, other: Inequality) -> Inequality:
        """Return the sum of two constraints; both are used up, so that long sums need no copies."""
        numbers, fewer = self.numbers, other.numbers
        if len(numbers) < len(fewer):
            numbers, fewer = fewer, numbers
        for name, a in fewer.items():
            total = numbers.get(name, 0) + a
            if total:
                numbers[name] = total
            else:
                del numbers[name]
        return Inequality(numbers, self.right + other.right)

    def times(self, factor: int) -> Inequality:
        """Return it `factor` times, from 1."""
        if factor < 1:
            raise ProofRefused(f"a factor of {factor}")
        return Inequality({x: a * factor for x, a in self.numbers.items()}, self.right * factor)

    def _of_normal(self, size: Numbers, degree: int) -> Inequality:
        """Return the constraint of a normal form whose literals have the signs of this one."""
        numbers = {x: size[x] if self.numbers[x] > 0 else -size[x] for x in size if size[x]}
        return Inequality(numbers, degree + sum(a for a in numbers.values() if a < 0))

    def divided(self, divisor: int) -> Inequality:
        """Return it divided and rounded up, all numbers and the degree."""
        if divisor < 1:
            raise ProofRefused(f"a divisor of {divisor}")
        size = {x: -(-abs(a) // divisor) for x, a in self.numbers.items()}
        return self._of_normal(size, -(-self.degree // divisor))

    def saturated(self) -> Inequality:
        """Return it with no number above its degree."""
        most = max(self.degree, 0)
        size = {x: min(abs(a), most) for x, a in self.numbers.items()}
        return self._of_normal(size, self.degree)

    def weakened(self, name: str) -> Inequality:
        """Return it without a variable, whose literal counts as true."""
        a = self.numbers.get(name, 0)
        numbers = {x: b for x, b in self.numbers.items() if x != name}
        return Inequality(numbers, self.right - max(a, 0))

    def negated(self) -> Inequality:
        """Return what holds where this one does not: sum of a x <= right - 1."""
        return Inequality({x: -a for x, a in self.numbers.items()}, 1 - self.right)


@dataclass(eq=False)
class Watched:
    """A constraint in use: its literals, the largest number first, and how much they may still lose.

    `open` are the terms without those that `Propagation.settle` found decided for good.
    """

    terms: list[tuple[int, Literal]]
    slack: int
    used: bool = True
    open: list[tuple[int, Literal]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.open = self.terms

    @property
    def largest(self) -> int:
        """The largest number of it that is open, 0 for none."""
        return self.open[0][0] if self.open else 0


@dataclass
class Propagation:
    """Unit propagation over all constraints in use, with the way back to an earlier state."""

    values: dict[str, int] = field(default_factory=dict)
    trail: list[tuple[Literal, Watched | None]] = field(default_factory=list)
    of_literal: dict[Literal, list[tuple[Watched, int]]] = field(default_factory=dict)
    conflict: bool = False
    settled: int = 0

    def watch(self, constraint: Inequality) -> Watched:
        """Put a constraint to use, and all that follows at once from it."""
        terms = sorted(
            ((abs(a), (x, int(a > 0))) for x, a in constraint.numbers.items()), reverse=True
        )
        left = sum(a for a, (x, value) in terms if self.values.get(x, value) == value)
        watched = Watched(terms, left - constraint.degree)
        for a, literal in terms:
            self.of_literal.setdefault(literal, []).append((watched, a))
        self._spread([watched])
        return watched

    def assume(self, literal: Literal, reason: Watched | None = None) -> list[Watched]:
        """Set a literal true; returns the constraints that lose by it and may now say more."""
        name, value = literal
        self.values[name] = value
        self.trail.append((literal, reason))
        touched = []
        for watched, a in self.of_literal.get((name, 1 - value), ()):
            watched.slack -= a
            if watched.used and watched.slack < watched.largest:
                touched.append(watched)
        return touched

    def _spread(self, touched: list[Watched]) -> None:
        """Set every literal without which some constraint would fail, until none is left or one fails."""
        while touched and not self.conflict:
            watched = touched.pop()
            if watched.slack < 0:
                self.conflict = True
                return
            for a, (name, value) in watched.open:
                if a <= watched.slack:
                    break
                if name not in self.values:
                    touched += self.assume((name, value), watched)

    def refutes(self, constraint: Inequality) -> bool:
        """Say whether propagation finds a conflict where a constraint is assumed; leaves all as it was."""
        if self.conflict:
            return True
        mark = len(self.trail)
        watched = self.watch(constraint)
        found, self.conflict = self.conflict, False
        for literal, _ in reversed(self.trail[mark:]):
            name, value = literal
            del self.values[name]
            for other, a in self.of_literal.get((name, 1 - value), ()):
                other.slack += a
        del self.trail[mark:]
        for _, literal in watched.terms:
            self.of_literal[literal].pop()  # the last one that was put there
        return found

    def settle(self, in_use: Iterable[Watched]) -> None:
        """Leave out of the open terms what is decided without any assumption, where that is much."""
        if len(self.trail) < 1.1 * self.settled + 100:
            return
        self.settled = len(self.trail)
        for watched in in_use:
            watched.open = [term for term in watched.open if term[1][0] not in self.values]

    def forget(self, watched: Watched, kept: Iterable[Watched]) -> None:
        """Take a constraint out of use, with all that only it had said; `kept` are the others."""
        watched.used = False
        if self.conflict or any(reason is watched for _, reason in self.trail):
            self._begin_anew(kept)

    def _begin_anew(self, kept: Iterable[Watched]) -> None:
        in_use = list(kept)
        for (name, value), _ in self.trail:
            for other, a in self.of_literal.get((name, 1 - value), ()):
                other.slack += a
        self.values.clear()
        self.trail.clear()
        self.conflict = False
        self.settled = 0
        for watched in in_use:
            watched.open = watched.terms
        self._spread([w for w in in_use if w.slack < w.largest])


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

    def delete(self, numbers: Iterable[int]) -> None:
        """Take constraints out of use."""
        for number in numbers:
            if self.known.pop(number, None) is None:
                raise ProofRefused(f"constraint {number} deleted, which is not there")
            gone = self._watched.pop(number)
            self._propagation.forget(gone, self._watched.values())


def _axiom(literal: str) -> Inequality:
    """Return literal >= 0."""
    if literal.startswith("~"):
        return Inequality({literal[1:]: -1}, -1)
    return Inequality({literal: 1}, 0)


NAME = r"[A-Za-z_][A-Za-z0-9\[\]{}_^-]+"
_TERM = re.compile(rf"([+-]?\d+)\s+(~?{NAME})\s*")


def read_inequalities(text: str) -> list[Inequality]:
    """Return the one constraint of a text such as `2 x1 -3 ~x2 >= 1`, or two of one with `=`."""
    sides = re.fullmatch(r"\s*(.*?)\s*(>=|=)\s*([+-]?\d+)\s*", text, re.DOTALL)
    if sides is None:
        raise ProofRefused(f"{text[:60]!r}, which is no constraint")
    left, sense, right = sides[1], sides[2], int(sides[3])
    numbers: Numbers = {}
    place = 0
    while place < len(left):
        term = _TERM.match(left, place)
        if term is None:
            raise ProofRefused(f"{left[place : place + 60]!r}, which is no term")
        a, name = int(term[1]), term[2]
        if name.startswith("~"):  # a ~x = a - a x
            name, a, right = name[1:], -a, right - a
        numbers[name] = numbers.get(name, 0) + a
        place = term.end()
    one = Inequality({x: a for x, a in numbers.items() if a}, right)
    return [one] if sense == ">=" else [one, Inequality(one.negated().numbers, -right)]


def read_opb(text: str) -> list[Inequality]:
    """Return the constraints of an OPB file without an objective, an equation as two."""
    body = "\n".join(line for line in text.splitlines() if not line.startswith("*"))
    *given, rest = body.split(";")
    if rest.strip():
        raise ProofRefused("the formula ends within a constraint")
    return [one for constraint in given for one in read_inequalities(constraint)]


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
    elif line.startswith("del id ") and all(word.isdigit() for word in rest.split()[1:]):
        checker.delete(map(int, rest.split()[1:]))
    else:
        raise ProofRefused(f"the rule {rule!r}, which is not known here")


def _one_inequality(text: str) -> list[Inequality]:
    if ">=" not in text:
        raise ProofRefused("rup of what is no inequality")
    return read_inequalities(text)
