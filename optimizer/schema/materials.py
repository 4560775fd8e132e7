"""What goes in: materials of the user's own, beside those of the standards."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated

from pydantic import Field, StringConstraints, WithJsonSchema

from ringset.schema.base import StudyModel
from ringset.schema.equipment import NAME_PATTERN, LengthMm
from ringset.standards.materials import Material, YieldRow

#: Materials of the standards that a ring may be of, and those that hubs and housings may be of.
RING_MATERIALS = ("c45", "42crmo4", "11smn30", "x6cr17", "pure_iron")
BODY_MATERIALS = (
    "en_aw_6082_t6", "c45", "42crmo4", "11smn30", "x6cr17", "x5crni18_10", "pure_iron",
)  # fmt: skip

_NAME = {"type": "string", "minLength": 1, "maxLength": 80, "pattern": NAME_PATTERN}
_Text = Annotated[str, StringConstraints(min_length=1, max_length=80, pattern=NAME_PATTERN)]
#: A material by its name: one of the standards, or one in shop.materials.
RingMaterial = Annotated[
    _Text, WithJsonSchema({"anyOf": [{"type": "string", "enum": list(RING_MATERIALS)}, _NAME]})
]
BodyMaterial = Annotated[
    _Text, WithJsonSchema({"anyOf": [{"type": "string", "enum": list(BODY_MATERIALS)}, _NAME]})
]


class YieldOfSize(StudyModel):
    """The least yield of bars of one range of sizes."""

    treatment: Annotated[str, StringConstraints(max_length=40)] = Field(
        default="", description="Treatment of these bars, such as +N or +QT; none by default."
    )
    over_mm: Annotated[float, Field(ge=0.0, le=5000.0)] = Field(
        default=0.0, description="The range begins above this diameter; 0 by default."
    )
    upto_mm: LengthMm = Field(
        description="Largest diameter of the range, itself included; above over_mm."
    )
    yield_mpa: Annotated[float, Field(gt=0.0, le=5000.0)] = Field(
        description="Least yield (R_eH or R_p0.2) that certificate or standard gives for these bars."
    )


class OwnMaterial(StudyModel):
    """A material of the user's own: values of a certificate, a data sheet or a measurement."""

    density_kg_per_m3: Annotated[float, Field(ge=500.0, le=25000.0)] = Field(
        description="Density; steels have 7700 to 8100."
    )
    youngs_modulus_gpa: Annotated[float, Field(ge=1.0, le=1000.0)] = Field(
        description="Young's modulus; steels have 190 to 220."
    )
    poisson: Annotated[float, Field(ge=0.0, lt=0.5)] = Field(
        description="Poisson's ratio; steels have 0.27 to 0.3."
    )
    expansion_um_per_m_k: Annotated[float, Field(ge=0.0, le=100.0)] = Field(
        description="Mean coefficient of thermal expansion from 20 to about 100 degrees, in 1e-6/K as "
        "certificates print it (11.5 for a plain steel), which is um per metre and kelvin."
    )
    ferromagnetic: bool = Field(
        description="Whether a magnetic head sees teeth of it; the material of a ring must be."
    )
    yields: Annotated[list[YieldOfSize], Field(max_length=100)] = Field(
        default=[],
        description="Yield by the size of the bar; limits on stress and bursting need it for the sizes that "
        "a joint can take. None by default.",
    )
    source: Annotated[str, StringConstraints(min_length=1, max_length=300)] = Field(
        description="Where the values are from, such as a certificate and its number; notes print it."
    )

    def as_material(self, name: str) -> Material:
        """Return the material as the standards hold theirs."""
        return Material(
            key=name,
            title=name,
            density_kg_per_m3=self.density_kg_per_m3,
            youngs_modulus_gpa=self.youngs_modulus_gpa,
            poisson=self.poisson,
            # in decimal, so that 11.55 is the 11.55e-6 that the standards hold
            expansion_per_k=float(Decimal(repr(self.expansion_um_per_m_k)).scaleb(-6)),
            ferromagnetic=self.ferromagnetic,
            source=self.source,
            bars=tuple(
                YieldRow(row.treatment, row.over_mm, row.upto_mm, row.yield_mpa, self.source)
                for row in self.sorted_yields()
            ),
        )

    def sorted_yields(self) -> list[YieldOfSize]:
        """Return the yields by treatment and size."""
        return sorted(self.yields, key=lambda row: (row.treatment, row.over_mm, row.upto_mm))
