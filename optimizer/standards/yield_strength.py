"""Yield of ring and hub materials by size of the bar or plate they are cut from.

A ring cut from a bar of 120 mm does not have the yield of the 16 mm bar that a data sheet leads with.
Rows of `data/materials.csv` with a treatment; each names its source. A material is given by its key there, or
as a `Material`, which may have rows of its own.
"""

from functools import cache
from typing import Literal

import numpy as np

from ringset.standards._numeric import (
    FloatArray,
    first_outside_table,
    on_standard_grid,
    unknown_standard_name,
)
from ringset.standards._tables import read_standard_table
from ringset.standards.materials import Material, YieldRow, standard_material

Form = Literal["bar", "plate"]


def standard_yield_rows(steel: Material | str, form: Form = "bar") -> tuple[YieldRow, ...]:
    """Return every size range that has data for bar or plate, by treatment and size.

    A key must be one of `MATERIALS`, else ValueError. A range holds its upper end but not its lower one.
    Materials with rows of their own have them for bars only.
    """
    if isinstance(steel, Material):
        if steel.bars is None:
            return _table_rows(steel.key, form)
        return steel.bars if form == "bar" else ()
    return _table_rows(steel, form)


@cache
def _table_rows(key: str, form: Form) -> tuple[YieldRow, ...]:
    """Return the rows of the table for a key."""
    standard_material(key)
    rows = [
        YieldRow(
            row["treatment"], float(row[f"{form}_over_mm"]), float(row[f"{form}_upto_mm"]),
            float(row["min"]), row["source"],
        )
        for row in read_standard_table("materials.csv")
        if row["key"] == key and row[f"{form}_upto_mm"]
    ]  # fmt: skip
    return tuple(sorted(rows, key=lambda row: (row.treatment, row.over_mm)))


def standard_treatments(steel: Material | str, form: Form = "bar") -> tuple[str, ...]:
    """Return the treatments with data, such as ("+N", "+QT"); ValueError for an unknown key."""
    return tuple(dict.fromkeys(row.treatment for row in standard_yield_rows(steel, form)))


def standard_largest_yield_size_mm(
    steel: Material | str, treatment: str | None = None, form: Form = "bar"
) -> float:
    """Return the largest size [mm] with data, 0 where there is none.

    ValueError for an unknown key, or a treatment without data.
    """
    rows = _chosen(steel, treatment, form)
    return max((row.upto_mm for row in rows), default=0.0)


def standard_yield_mpa(
    steel: Material | str,
    size_mm: FloatArray | float,
    treatment: str | None = None,
    form: Form = "bar",
) -> FloatArray:
    """Return the least yield [MPa] at each size [mm], diameter of the bar or thickness of the plate.

    Without a treatment the weakest one that has data at that size counts. The result has the shape of
    `size_mm`. ValueError for a size without data, saying which sizes have, for an unknown key or treatment.

    >>> print(standard_yield_mpa("c45", np.array([16.0, 40.0, 100.0]), "+QT"))
    [490. 430. 370.]
    >>> print(standard_yield_mpa("c45", 120.0))  # thicker than any quenched bar with data: normalised
    275.0
    """
    found = standard_yield_or_zero_mpa(steel, size_mm, treatment, form)
    missing = found <= 0.0
    if np.any(missing):
        given = first_outside_table(np.asarray(size_mm, dtype=np.float64), missing)
        raise ValueError(
            f"{_key(steel)} {form} of {given} mm: no yield known; allowed: {_sizes(steel, form)}"
        )
    return found


def standard_yield_or_zero_mpa(
    steel: Material | str,
    size_mm: FloatArray | float,
    treatment: str | None = None,
    form: Form = "bar",
) -> FloatArray:
    """Return the yield as `standard_yield_mpa`, 0 where nothing is known: no data counts as no strength."""
    size = on_standard_grid(size_mm)
    found = np.full(size.shape, np.inf)
    for row in _chosen(steel, treatment, form):
        held = (size > row.over_mm) & (size <= row.upto_mm)
        found = np.where(held, np.minimum(found, row.yield_mpa), found)
    return np.where(np.isfinite(found), found, 0.0)


def standard_weakest_yield_row(
    steel: Material | str, size_mm: float, treatment: str | None = None, form: Form = "bar"
) -> YieldRow | None:
    """Return the row whose yield `standard_yield_or_zero_mpa` takes at a size [mm]; None where there is none.

    Of treatments that are equally weak it is the first by name. ValueError as there.

    >>> row = standard_weakest_yield_row("c45", 40.0)
    >>> row.treatment, row.yield_mpa == float(standard_yield_or_zero_mpa("c45", 40.0))
    ('+N', True)
    """
    held = [row for row in _chosen(steel, treatment, form) if row.over_mm < size_mm <= row.upto_mm]
    return min(held, key=lambda row: row.yield_mpa, default=None)


def _chosen(steel: Material | str, treatment: str | None, form: Form) -> list[YieldRow]:
    rows = standard_yield_rows(steel, form)
    if treatment is None:
        return list(rows)
    mine = [row for row in rows if row.treatment == treatment]
    if not mine:
        known = standard_treatments(steel, form) or ("none has data",)
        raise ValueError(
            unknown_standard_name(f"treatment of {_key(steel)} {form}", treatment, known)
        )
    return mine


def _key(steel: Material | str) -> str:
    return steel.key if isinstance(steel, Material) else steel


def _sizes(steel: Material | str, form: Form) -> str:
    """Return the sizes that have data, for a message."""
    parts = []
    for treatment in standard_treatments(steel, form):
        mine = [row for row in standard_yield_rows(steel, form) if row.treatment == treatment]
        parts.append(f"{treatment} over {mine[0].over_mm:g} up to {mine[-1].upto_mm:g} mm")
    return ", ".join(parts) or "no size has data"
