"""Tooth ranges of disc-type involute milling cutters.

One cutter of a set mills a range of tooth counts of its module; its form belongs to the smallest
count of the range and is wrong above it (unnamed, from memory; `ringset.physics.cutter_form` says by how
much). What a workshop needs is therefore one cutter per (module, range), whatever the number
printed on it.

Numbers run both ways: inch-style sets count down to the rack (No. 1: 135 teeth and more), metric
sets count up to it (No. 8). A number alone is ambiguous, so ranges are stored and labels print
both numbers.

Sources, per row of `data/form_cutters.csv`: the eight-cutter ranges and their inch-style numbers
from a teaching simulation after US Army TC 9-524 chapter 8; the metric numbers and the whole
fifteen-cutter set unnamed, from memory.
"""

from functools import cache
from typing import overload

import numpy as np

from ringset.standards._numeric import IntArray, Ints, first_outside_table, unknown_standard_name
from ringset.standards._tables import read_standard_table

DISC_SETS: tuple[str, ...] = ("disc_8", "disc_15")
"""Names of the cutter sets: eight cutters, and fifteen with the half numbers."""

DISC_FORMS: tuple[str, ...] = ("range_start", "range_middle")
"""Which tooth count of its range a cutter has the form of."""


def standard_disc_set(name: str) -> tuple[tuple[int, int | None], ...]:
    """Return the tooth ranges of a cutter set, ascending.

    Parameters
    ----------
    name : str
        "disc_8" or "disc_15".

    Returns
    -------
    tuple of (z_min, z_max)
        Both ends belong to the range; the last z_max is None, it reaches to the rack.

    Raises
    ------
    ValueError
        If the name is not one of `DISC_SETS`.
    """
    return tuple(
        (int(row["z_min"]), int(row["z_max"]) if row["z_max"] else None) for row in _rows(name)
    )


@overload
def standard_disc_range_index(name: str, teeth: int) -> int: ...
@overload
def standard_disc_range_index(name: str, teeth: IntArray) -> IntArray: ...
def standard_disc_range_index(name: str, teeth: Ints) -> Ints:
    """Return which range of a set holds a tooth count, as index into `disc_set(name)`.

    Parameters
    ----------
    name : str
        "disc_8" or "disc_15".
    teeth : int or array of int
        Tooth count z, 12 or more.

    Returns
    -------
    int or array of int
        In the shape of `teeth`.

    Raises
    ------
    ValueError
        If the name is not one of `DISC_SETS`, a tooth count is below the smallest of the set
        (12), or is not an integer.
    """
    counts = np.asarray(teeth)
    if not np.issubdtype(counts.dtype, np.integer):
        raise ValueError(f"teeth must be integers, given values of type {counts.dtype}")
    starts = np.array([z_min for z_min, _ in standard_disc_set(name)])
    low = counts < starts[0]
    if np.any(low):
        raise ValueError(
            f"{name} mills {starts[0]} teeth and more, given {first_outside_table(counts.astype(float), low)}"
        )
    index = np.searchsorted(starts, counts, side="right").astype(np.int64) - 1
    return int(index) if index.ndim == 0 else index


def standard_disc_form_teeth(name: str, teeth: int, form: str) -> float:
    """Return the tooth count z0 whose spaces have the form of the cutter that mills `teeth` teeth.

    Parameters
    ----------
    name : str
        "disc_8" or "disc_15".
    teeth : int
        Tooth count z, 12 or more.
    form : str
        "range_start": the smallest count of the range, common practice (unnamed).
        "range_middle": the harmonic mean of its ends, 2 / (1/z_min + 1/z_max), where the form is as far
        from both, because the error grows with 1/z0 - 1/z (Willis spaces his cutters so; see
        tests/published/test_form_cutters.py). The rack has 1/z = 0.

    Raises
    ------
    ValueError
        If a name is not one of the allowed ones, or fewer teeth are given than the set mills.

    Examples
    --------
    >>> standard_disc_form_teeth("disc_8", 96, "range_start")
    55.0
    >>> standard_disc_form_teeth("disc_8", 150, "range_middle")
    270.0
    """
    if form not in DISC_FORMS:
        raise ValueError(unknown_standard_name("form of a cutter", form, DISC_FORMS))
    low, high = standard_disc_set(name)[standard_disc_range_index(name, teeth)]
    if form == "range_start":
        return float(low)
    return 2.0 / (1.0 / low + (1.0 / high if high else 0.0))


def standard_disc_label(name: str, index: int) -> str:
    """Return a range for people, such as "55..134 teeth (No. 2 inch-style, No. 7 metric)".

    Parameters
    ----------
    name : str
        "disc_8" or "disc_15".
    index : int
        Position in `disc_set(name)`, 0 for the smallest tooth counts.

    Raises
    ------
    ValueError
        If the name or the index is not one of the allowed ones.

    Examples
    --------
    >>> standard_disc_label("disc_8", standard_disc_range_index("disc_8", 96))
    '55..134 teeth (No. 2 inch-style, No. 7 metric)'
    """
    rows = _rows(name)
    if not 0 <= index < len(rows):
        raise ValueError(f"index of {name} must lie in 0..{len(rows) - 1}, given {index}")
    row = rows[index]
    low, high = row["z_min"], row["z_max"]
    teeth = f"{low} teeth" if low == high else f"{low}..{high} teeth"
    if not high:
        teeth = f"{low} teeth and more"
    return f"{teeth} (No. {row['number_inch']} inch-style, No. {row['number_metric']} metric)"


def standard_special_disc_label(teeth: int, shift: float = 0.0) -> str:
    """Return what a cutter made for one tooth count mills, such as "96 teeth" or "96 teeth, x = +0.2".

    >>> standard_special_disc_label(96, 0.2)
    '96 teeth, x = +0.2'
    """
    return f"{teeth} teeth" + (f", x = {shift:+g}" if shift else "")


@cache
def _rows(name: str) -> tuple[dict[str, str], ...]:
    if name not in DISC_SETS:
        raise ValueError(unknown_standard_name("cutter set", name, DISC_SETS))
    rows = [row for row in read_standard_table("form_cutters.csv") if row["set"] == name]
    return tuple(sorted(rows, key=lambda row: int(row["z_min"])))
