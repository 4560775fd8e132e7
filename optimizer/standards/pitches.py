"""Modules of cutters that are named by a pitch: diametral ("16 DP") or circular ("0.25 in CP", "5 mm CP").

A diametral pitch of P is P teeth per inch of pitch diameter, so that the module is 25.4 mm / P. A circular
pitch p is the length from tooth to tooth on the pitch circle, so that the module is p / pi (ISO 21771; both
by definition). A pitch is never rounded to a module of a series: a cutter of 16 DP has module 1.5875 mm, and
none of 1.5 or 1.6.
"""

import math
import re

from ringset.standards.exact_text import (
    MM_PER_UNIT,
    NUMBER_PATTERN,
    TEXT_LONGEST,
    exact_standard_length,
    exact_standard_number,
)

#: What a text of a pitch looks like.
PITCH_PATTERN = rf"^(?:{NUMBER_PATTERN} *DP|{NUMBER_PATTERN} *(?:mm|in) *CP)$"


def standard_pitch_module_mm(text: str) -> float:
    """Return the module in mm of a cutter that a text names by its pitch; ValueError for any other text.

    >>> standard_pitch_module_mm("16 DP"), round(standard_pitch_module_mm("0.25 in CP"), 6)
    (1.5875, 2.021268)
    """
    if len(text) > TEXT_LONGEST or not re.fullmatch(PITCH_PATTERN, text):
        raise ValueError("no diametral or circular pitch")
    number = text[:-2].rstrip()
    if text.endswith("DP"):
        per_inch = exact_standard_number(number)
        if per_inch == 0:
            raise ValueError("a pitch of nothing")
        return float(MM_PER_UNIT["in"] / per_inch)
    # pi is the one number here that is not exact: the quotient is off by no more than a rounding
    return float(exact_standard_length(number, "mm")) / math.pi


def standard_pitch_title(text: str) -> str:
    """Return the text of a pitch as it is printed, with one space between its parts.

    >>> standard_pitch_title("16DP"), standard_pitch_title("1/4in  CP")
    ('16 DP', '1/4 in CP')
    """
    return re.sub(r" *(DP|CP|mm|in)", r" \1", text)
