"""Numbers and lengths as drawings write them, worked out exactly: decimals, fractions, inches.

An inch is 25.4 mm exactly (international yard and pound agreement, 1959; so too ISO 80000-3). Texts are
worked out as fractions of whole numbers; whoever needs a float64 takes the nearest one once, at the end.
"""

import re
from fractions import Fraction

#: Millimetres per unit of a length, exactly.
MM_PER_UNIT = {"mm": Fraction(1), "um": Fraction(1, 1000), "in": Fraction(254, 10)}
#: Longest text that is read: all that a drawing states, and nothing that takes time to work out.
TEXT_LONGEST = 40

#: A decimal, a fraction, or a whole number with a fraction behind it.
NUMBER_PATTERN = r"(?:[0-9]+(?:\.[0-9]+)?|(?:[0-9]+ +)?[0-9]+/[0-9]+)"
#: What a text of a length looks like: its number, then its unit.
LENGTH_PATTERN = rf"^-?{NUMBER_PATTERN} *(?:mm|um|in)$"


def exact_standard_number(text: str) -> Fraction:
    """Return a decimal ("2.5"), a fraction ("5/8") or a whole number with a fraction ("2 1/2") exactly.

    ValueError for any other text, for a fraction over nothing, and for one behind a whole number that is not
    below 1.

    >>> exact_standard_number("2 1/2"), exact_standard_number("0.1")
    (Fraction(5, 2), Fraction(1, 10))
    """
    if len(text) > TEXT_LONGEST or not re.fullmatch(NUMBER_PATTERN, text):
        raise ValueError("no decimal and no fraction")
    *whole, last = text.split()
    if "/" in last and int(last.partition("/")[2]) == 0:
        raise ValueError("a fraction over nothing")
    if whole and Fraction(last) >= 1:
        raise ValueError("a fraction behind a whole number that is not below 1")
    return sum((Fraction(part) for part in whole), Fraction(last))


def exact_standard_length(text: str, unit: str) -> Fraction:
    """Return a length that a text states with its unit (mm, um or in), in `unit`, exactly.

    ValueError for a text that states none; see `exact_standard_number`.

    >>> float(exact_standard_length("2.5 in", "mm")), float(exact_standard_length("0.002 in", "um"))
    (63.5, 50.8)
    """
    if len(text) > TEXT_LONGEST or not re.fullmatch(LENGTH_PATTERN, text):
        raise ValueError("no length with its unit")
    sign, bare = (-1, text[1:]) if text.startswith("-") else (1, text)
    stated = bare[-2:]
    return (
        sign * exact_standard_number(bare[:-2].rstrip()) * MM_PER_UNIT[stated] / MM_PER_UNIT[unit]
    )
