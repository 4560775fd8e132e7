"""General tolerances of ISO 2768-1:1989 for sizes without a tolerance of their own.

Sources per row of `data/iso2768_1.csv`: lengths from an extract of JIS B 0405 and unnamed test values
that agree; edges and most angles from memory. The upper limit of a range belongs to the range. One
scanned sheet prints other values of class c below 6 mm: those are older.
"""

from functools import cache

from ringset.standards._numeric import on_standard_grid, unknown_standard_name
from ringset.standards._tables import read_standard_table

CLASSES: tuple[str, ...] = ("f", "m", "c", "v")
"""Tolerance classes: fine, medium, coarse, very coarse."""


def iso2768_linear_mm(size_mm: float, tolerance_class: str) -> float:
    """Return the permitted deviation (plus and minus) of a length [mm].

    Valid from 0.5 mm (3 mm in class v) up to 4000 mm (2000 mm in class f); smaller sizes have their
    deviation beside them. ValueError outside of that or for a class that is not f, m, c or v. Table 1.

    >>> iso2768_linear_mm(120.0, "m"), iso2768_linear_mm(120.1, "m")
    (0.3, 0.5)
    """
    return _look_up("linear_mm", size_mm, tolerance_class)


def iso2768_edge_mm(size_mm: float, tolerance_class: str) -> float:
    """Return the permitted deviation (plus and minus) of an outer radius or chamfer height [mm].

    Valid from 0.5 mm, else ValueError. Table 2, from memory; one unnamed page agrees.
    """
    return _look_up("edge_mm", size_mm, tolerance_class)


def iso2768_angle_arcmin(shorter_leg_mm: float, tolerance_class: str) -> float:
    """Return the permitted deviation of an angle [arcmin] by its shorter leg [mm], above 0, else ValueError.

    Table 3, from memory but for a few unnamed test values.
    """
    return _look_up("angle_arcmin", shorter_leg_mm, tolerance_class)


def _look_up(kind: str, size_mm: float, tolerance_class: str) -> float:
    if tolerance_class not in CLASSES:
        raise ValueError(unknown_standard_name("tolerance class", tolerance_class, CLASSES))
    rows = _rows(kind, tolerance_class)
    size = float(on_standard_grid(size_mm))
    for over, upto, value in rows:
        # The first range of lengths begins with 0.5 (or 3) mm itself.
        if (over < size or (over == rows[0][0] == size and size > 0.0)) and size <= upto:
            return value
    raise ValueError(
        f"size must be {rows[0][0]:g} to {rows[-1][1]:g} mm in class {tolerance_class} of "
        f"ISO 2768-1, given {size_mm:g}"
    )


@cache
def _rows(kind: str, tolerance_class: str) -> tuple[tuple[float, float, float], ...]:
    return tuple(
        sorted(
            (float(row["over_mm"]), float(row["upto_mm"] or "inf"), float(row["plus_minus"]))
            for row in read_standard_table("iso2768_1.csv")
            if row["kind"] == kind and row["class"] == tolerance_class
        )
    )
