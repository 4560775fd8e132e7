"""What the shop's fields are made of: modules, shares, tooth counts, stock."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Discriminator, Field, StringConstraints, Tag

from ringset.schema.base import StudyModel
from ringset.schema.equipment import BRANCHES, LengthMm, ModuleMm
from ringset.schema.pitches import Pitch

Series = Literal["iso54_i", "iso54_i_ii", "din780_i", "din780_i_ii", "jis1701_i", "jis1701_i_ii"]


ScrewSize = Literal["M2", "M2.5", "M3", "M4", "M5", "M6", "M8", "M10", "M12"]


def _branch(value: object) -> str:
    return BRANCHES[1] if isinstance(value, list) else BRANCHES[0]


def _number_or_text(value: object) -> str:
    return BRANCHES[3] if isinstance(value, str) else BRANCHES[2]


#: A module in mm, or the pitch that a cutter is named by.
Module = Annotated[
    Annotated[ModuleMm, Tag(BRANCHES[2])] | Annotated[Pitch, Tag(BRANCHES[3])],
    Discriminator(_number_or_text),
]


#: Shares by the number of heads.
PitchShares = dict[
    Annotated[str, StringConstraints(pattern="^[2-8]$")], Annotated[float, Field(gt=0.0, le=1.0)]
]


ToothCount = Annotated[int, Field(ge=1, le=10000)]


Modules = Annotated[
    Annotated[Series, Tag(BRANCHES[0])]
    | Annotated[list[Module], Field(min_length=1, max_length=200), Tag(BRANCHES[1])],
    Discriminator(_branch),
]


class Tube(StudyModel):
    """A tube on stock."""

    outer_mm: LengthMm = Field(description="Outer diameter.")
    bore_mm: LengthMm = Field(description="Bore, smaller than outer_mm.")


Lengths = Annotated[list[LengthMm], Field(max_length=1000)]
