"""Physical values of ring and hub materials.

Typical values near room temperature. The table `data/materials.csv` keeps every value found, with
its source; its column `used` marks the one row per value that `MATERIALS` takes: the printed
value, or the middle where the row holds a range. Where two sheets for X6Cr17 disagree, the
EN 10088 value is taken. Many values are handbook ranges from memory and say so in `source`.

Yield strengths depend on the size of the bar or plate: see `yield_strength`.
"""

from dataclasses import dataclass

from ringset.standards._numeric import unknown_standard_name
from ringset.standards._tables import read_standard_table


@dataclass(frozen=True)
class YieldRow:
    """The least yield of one size range (over, up to; upper end included) of one treatment, "" for none."""

    treatment: str
    over_mm: float
    upto_mm: float
    yield_mpa: float
    source: str


@dataclass(frozen=True)
class Material:
    """A material with typical values near room temperature.

    Parameters
    ----------
    key : str
        Key in `MATERIALS`.
    title : str
        Name for people.
    density_kg_per_m3 : float
        Density [kg/m3].
    youngs_modulus_gpa : float
        Young's modulus E [GPa].
    poisson : float
        Poisson's ratio [-].
    expansion_per_k : float
        Mean coefficient of thermal expansion, 20 to 100 degC (at 25 degC for pure iron) [1/K].
    ferromagnetic : bool
        Whether a magnetic sensor sees teeth of this material.
    source : str
        The source of each value, in the order above.
    bars : tuple of YieldRow or None
        Yield by the size of the bar, where it is not that of the table (see `yield_strength`).
    """

    key: str
    title: str
    density_kg_per_m3: float
    youngs_modulus_gpa: float
    poisson: float
    expansion_per_k: float
    ferromagnetic: bool
    source: str
    bars: tuple[YieldRow, ...] | None = None


def standard_material(key: str) -> Material:
    """Return the material of a key of `MATERIALS`; ValueError names the allowed keys.

    >>> steel = standard_material("c45")
    >>> steel.title, steel.density_kg_per_m3, steel.ferromagnetic
    ('C45 (1.0503)', 7850.0, True)
    """
    try:
        return MATERIALS[key]
    except KeyError:
        raise ValueError(unknown_standard_name("material", key, MATERIALS)) from None


def standard_material_in_full(key: str, treatment: str | None) -> str:
    """Return a material's key or title with its treatment, if one is stated.

    >>> standard_material_in_full("42crmo4", "+QT")
    '42crmo4 +QT'
    >>> standard_material_in_full(standard_material("c45").title, "+N")
    'C45 (1.0503) +N'
    """
    return key if treatment is None else f"{key} {treatment}"


def _typical(row: dict[str, str]) -> float:
    """Return the printed value of a row, or the middle of its range."""
    if row["typical"]:
        return float(row["typical"])
    # Decimal places beyond the tables' own would only show binary dust, e.g. 11.549999999999999.
    return round((float(row["min"]) + float(row["max"])) / 2.0, 6)


def _build(key: str, rows: list[dict[str, str]]) -> Material:
    """Return the material of the rows marked as used, which must be one per value."""
    properties = ("density", "youngs_modulus", "poisson", "expansion", "ferromagnetic")
    used = {}
    for name in properties:
        (used[name],) = (
            row for row in rows if row["used"] == "yes" and row["property"].startswith(name)
        )
    return Material(
        key=key,
        title=rows[0]["title"],
        density_kg_per_m3=_typical(used["density"]),
        youngs_modulus_gpa=_typical(used["youngs_modulus"]),
        poisson=_typical(used["poisson"]),
        expansion_per_k=round(_typical(used["expansion"]) * 1e-6, 12),
        ferromagnetic={"yes": True, "no": False}[used["ferromagnetic"]["typical"]],
        source="; ".join(
            f"{name.replace('_', ' ')}: {used[name]['source']}" for name in properties
        ),
    )


def _load() -> dict[str, Material]:
    groups: dict[str, list[dict[str, str]]] = {}
    for row in read_standard_table("materials.csv"):
        groups.setdefault(row["key"], []).append(row)
    return {key: _build(key, rows) for key, rows in groups.items()}


MATERIALS: dict[str, Material] = _load()
"""Materials by key."""
