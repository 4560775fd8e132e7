"""Linear inequalities over variables 0 or 1, as OPB files hold them, in Python's own integers.

Imports nothing of the product: it is part of the small checker (`cutting_planes`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

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

    def with_value(self, name: str, value: int) -> Inequality:
        """Return it with a value put in for a variable."""
        numbers = {x: a for x, a in self.numbers.items() if x != name}
        return Inequality(numbers, self.right - self.numbers.get(name, 0) * value)

    def negated(self) -> Inequality:
        """Return what holds where this one does not: sum of a x <= right - 1."""
        return Inequality({x: -a for x, a in self.numbers.items()}, 1 - self.right)


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
    """Return the constraints of an OPB file without an objective, an equation as two.

    Only a line feed ends a line: titles in comments may hold what Unicode calls other ends of a line.
    """
    body = "\n".join(line for line in text.split("\n") if not line.startswith("*"))
    *given, rest = body.split(";")
    if rest.strip():
        raise ProofRefused("the formula ends within a constraint")
    return [one for constraint in given for one in read_inequalities(constraint)]
