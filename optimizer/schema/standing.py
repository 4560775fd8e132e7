"""What goes in: what stands already. Cutters that the shop owns, and ring parts that are in production."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from ringset.schema.base import StudyModel
from ringset.schema.equipment import LengthMm, Name
from ringset.schema.pitches import module_field_mm
from ringset.schema.shop_parts import Module, ToothCount

#: Sizes in mm are the same where they differ by no more than this.
SAME_MM = 1e-6

#: Whether the wishes for few cutters and ring parts count what is new only, or all.
Counting = Literal["new", "all"]


class OwnedCutter(StudyModel):
    """A cutter on the shelf: it costs nothing, and does not count as a new one."""

    module: Module = Field(
        description='Its module in mm, or the pitch it is named by, such as "16 DP".'
    )
    teeth: ToothCount | None = Field(
        default=None,
        description="For a disc cutter any tooth count that it cuts: one of its range (disc_8, disc_15), or "
        "the one it is made for (disc_special). None for a hob, which cuts every count.",
    )

    @property
    def module_mm(self) -> float:
        """Its module in mm."""
        return module_field_mm(self.module)


def same_cutter(one: tuple[float, int], other: tuple[float, int] | None) -> bool:
    """Say whether two cutters are one, by their modules in mm and their tooth counts or ranges."""
    return other is not None and one[1] == other[1] and abs(one[0] - other[0]) <= SAME_MM


class PartInProduction(StudyModel):
    """A ring part that is made already: no set-up is paid for it, and it does not count as a new one.

    It is the same ring as one of an answer where module, teeth, bore with its tolerance zone, and width are
    the same; flank class, depth, shift and material are the shop's.
    """

    name: Name = Field(
        description="Its own number, which answers, sheets and files then bear in place of R1, R2."
    )
    module: Module = Field(description='Module in mm, or the pitch of its cutter, such as "16 DP".')
    teeth: ToothCount
    bore_mm: LengthMm
    face_width_mm: LengthMm
    bore_zone: Annotated[str, StringConstraints(min_length=2, max_length=8)] = Field(
        default="H7",
        description="Tolerance zone of the bore, the hole half of a joint's seat_fit. H7 by default, as on "
        "joints without a fit; above 500 mm the shop's general tolerance holds instead.",
    )

    @property
    def module_mm(self) -> float:
        """Its module in mm."""
        return module_field_mm(self.module)

    def is_ring(self, module_mm: float, teeth: int, bore_mm: float, face_width_mm: float) -> bool:
        """Say whether a ring has its module, teeth, bore and width; the zone is another question."""
        sizes = (
            (module_mm, self.module_mm),
            (bore_mm, self.bore_mm),
            (face_width_mm, self.face_width_mm),
        )
        return teeth == self.teeth and all(abs(own - other) <= SAME_MM for own, other in sizes)


OwnedCutters = Annotated[list[OwnedCutter], Field(max_length=1000)]
PartsInProduction = Annotated[list[PartInProduction], Field(max_length=1000)]
