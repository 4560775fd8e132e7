"""Materials as a user states them, with the values that the standards hold of theirs."""

from __future__ import annotations

from ringset.standards.materials import MATERIALS
from ringset.standards.yield_strength import standard_yield_rows
from tests.support.studies import Json


def as_stated(key: str) -> Json:
    """Return a material of the standards as a material of the user's own."""
    steel = MATERIALS[key]
    return {
        "density_kg_per_m3": steel.density_kg_per_m3,
        "youngs_modulus_gpa": steel.youngs_modulus_gpa,
        "poisson": steel.poisson,
        "expansion_um_per_m_k": round(steel.expansion_per_k * 1e6, 6),
        "ferromagnetic": steel.ferromagnetic,
        "source": f"copy of {key}",
        "yields": [
            {
                "treatment": row.treatment, "over_mm": row.over_mm, "upto_mm": row.upto_mm,
                "yield_mpa": row.yield_mpa,
            }
            for row in standard_yield_rows(key)
        ],
    }  # fmt: skip
