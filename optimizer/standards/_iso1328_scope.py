"""The limits within which ISO 1328-1:2013 holds; see `iso1328`, which re-exports this."""

import operator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ringset.standards._numeric import (
    BoolArray,
    FloatArray,
    first_outside_table,
    on_standard_grid,
    require_positive_table_input,
)


class OutsideStandard(ValueError):
    """A value lies outside the range a standard covers.

    Attributes
    ----------
    quantity : str
        What is outside, such as "pitch diameter [mm]".
    given : str
        The first value outside, and how many more there are.
    allowed : str
        The range, both ends included.
    """

    def __init__(self, quantity: str, given: str, allowed: str) -> None:
        # All three go to args, so that the exception survives pickling between processes.
        super().__init__(quantity, given, allowed)
        self.quantity, self.given, self.allowed = quantity, given, allowed

    def __str__(self) -> str:
        """Return the sentence for the user."""
        return f"ISO 1328-1:2013 covers {self.quantity} {self.allowed}, given {self.given}"


@dataclass(frozen=True)
class Limit:
    """A closed range of one quantity, with the sentences for leaving it."""

    quantity: str
    low: float
    high: float
    below: str
    above: str


# ISO 1328-1:2013 clause 1 (two unnamed transcriptions and an unnamed scope text agree). A draft of
# the edition, seen in a scope text, had classes 2..11; the published text has 1..11.
TEETH = Limit("number of teeth", 5, 1000, "fewer than 5 teeth", "more than 1000 teeth")
MODULE = Limit("module [mm]", 0.5, 70, "module below 0.5 mm", "module above 70 mm")
DIAMETER = Limit(
    "pitch diameter [mm]", 5, 15000, "pitch diameter below 5 mm", "pitch diameter above 15000 mm"
)
WIDTH = Limit("face width [mm]", 4, 1200, "face width below 4 mm", "face width above 1200 mm")


def iso1328_checked_class(flank_class: Any) -> FloatArray:
    """Return the flank tolerance class as array; OutsideStandard unless an integer 1..11."""
    classes = np.asarray(flank_class, dtype=np.float64)
    bad = ~np.isin(classes, np.arange(1.0, 12.0))
    if np.any(bad):
        raise OutsideStandard(
            "flank tolerance class", first_outside_table(classes, bad), "1..11, integers"
        )
    return classes


def iso1328_checked_values(limit: Limit, values: Any, *, extrapolate: bool) -> FloatArray:
    """Return `values` as array, refusing what the formulas cannot take.

    ValueError unless finite and above zero; OutsideStandard outside the limit, unless told to
    extrapolate.
    """
    numbers = np.asarray(values, dtype=np.float64)
    require_positive_table_input(limit.quantity, numbers)
    if not extrapolate:
        grid = on_standard_grid(numbers)
        bad = (grid < limit.low) | (grid > limit.high)
        if np.any(bad):
            raise OutsideStandard(
                limit.quantity, first_outside_table(numbers, bad), f"{limit.low:g}..{limit.high:g}"
            )
    return numbers


def iso1328_outside_scope(
    module_mm: Any, teeth: Any, pitch_diameter_mm: Any, face_width_mm: Any, flank_class: Any
) -> dict[str, NDArray[np.bool_]]:
    """Return which limits of ISO 1328-1:2013 a set of rings leaves, and which rings do.

    A thin ring is outside for its face width although the pitch tolerances do not depend on it:
    such an answer needs a warning, not a refusal.

    Parameters
    ----------
    module_mm, teeth, pitch_diameter_mm, face_width_mm : float or array of float
        Module [mm], number of teeth, pitch diameter [mm], face width [mm]; broadcast together.
        Finite and above zero.
    flank_class : int or array of int
        Flank tolerance class, 1..11.

    Returns
    -------
    dict of str to array of bool
        A sentence such as "face width below 4 mm" to the mask of rings it holds for. Only the
        limits that at least one ring leaves; empty when all rings are in scope.

    Raises
    ------
    OutsideStandard
        For a flank class outside 1..11, which has no meaning to warn about.
    ValueError
        For a length or tooth count that is not finite and above zero.

    Notes
    -----
    Source: ISO 1328-1:2013 clause 1: 5 <= z <= 1000, 5 <= d <= 15000 mm, 0.5 <= m_n <= 70 mm,
    4 <= b <= 1200 mm (two unnamed transcriptions and an unnamed scope text agree). Its helix angle
    limit of 45 deg is met by the straight teeth of a target ring.

    Examples
    --------
    >>> iso1328_outside_scope(1.0, 100, 100.0, np.array([3.0, 8.0]), 6)
    {'face width below 4 mm': array([ True, False])}
    """
    given = (
        (MODULE, module_mm),
        (TEETH, teeth),
        (DIAMETER, pitch_diameter_mm),
        (WIDTH, face_width_mm),
    )
    numbers = [iso1328_checked_values(limit, values, extrapolate=True) for limit, values in given]
    columns = np.broadcast_arrays(*numbers, iso1328_checked_class(flank_class))
    masks: dict[str, BoolArray] = {}
    for (limit, _), values in zip(given, columns, strict=False):
        grid = on_standard_grid(values)
        for sentence, compare, bound in (
            (limit.below, operator.lt, limit.low),
            (limit.above, operator.gt, limit.high),
        ):
            mask = np.asarray(compare(grid, bound), dtype=np.bool_)
            if mask.any():
                masks[sentence] = mask
    return masks
