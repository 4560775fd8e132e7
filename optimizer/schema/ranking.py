"""What goes in, fifth part: the wishes in their order, their ceilings, and what may be given up of them.

Wishes are minimised one after another, and each is then held at its least. `wishes.give` loosens that: so
much of a wish may be given up for the wishes after it. `gives.py` says what a give means in whole units.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Discriminator, Field, StringConstraints, Tag

from ringset.schema.base import StudyModel
from ringset.schema.equipment import BRANCHES
from ringset.schema.standing import Counting

Wish = Literal["cutters", "ring_parts", "heads", "material", "cost"]
WISHES: tuple[Wish, ...] = ("cutters", "ring_parts", "heads", "material", "cost")


def _branch(value: object) -> str:
    return BRANCHES[3] if isinstance(value, str) else BRANCHES[2]


#: How much of a wish may be given up: a number in its own unit, or a text with a percent or a rate.
StatedGive = Annotated[
    Annotated[Annotated[float, Field(gt=0.0, le=1e12)], Tag(BRANCHES[2])]
    | Annotated[Annotated[str, StringConstraints(max_length=80)], Tag(BRANCHES[3])],
    Discriminator(_branch),
]


class Wishes(StudyModel):
    """What counts, in order, and what it may come to at most."""

    order: Annotated[list[Wish], Field(min_length=1, max_length=5)] = Field(
        default=["cutters", "ring_parts", "heads", "material"],
        description="Aims in order of rank; each is proven before the next and then held. cost needs "
        "shop.prices.",
    )
    give: dict[Wish, StatedGive] = Field(
        default={},
        exclude_if=lambda give: not give,
        description="How much of a wish may be given up for the wishes after it, such as "
        '{"heads": 1}: a number of pieces, kg or money; a percent such as "5 %"; or a rate such as '
        '"0.15 kg per head", by which one head more is accepted for each 0.15 kg that the next wish '
        "gains. Nothing by default.",
    )
    count: Counting = Field(
        default="new",
        exclude_if=lambda count: count == "new",
        description="Whether the wishes and ceilings for cutters and ring parts count only what is new, or "
        "all: cutters in shop.owned_cutters and parts in shop.parts_in_production too. Only new ones by "
        "default. Owned cutters and parts in production cost no money either way.",
    )
    cutters_max: Annotated[int, Field(ge=0, le=100_000)] | None = Field(
        default=None, description="Most cutters that count; none by default."
    )
    ring_parts_max: Annotated[int, Field(ge=0, le=100_000)] | None = Field(
        default=None, description="Most distinct ring parts that count; none by default."
    )
    heads_max: Annotated[int, Field(ge=1, le=1_000_000_000)] | None = Field(
        default=None, description="Most heads over all robots built; none by default."
    )
    material_max_kg: Annotated[float, Field(gt=0.0, le=1e9)] | None = Field(
        default=None,
        description="Most material (turned blanks) over all robots built; none by default.",
    )
    cost_max: Annotated[float, Field(gt=0.0, le=1e12)] | None = Field(
        default=None,
        description="Most money over all robots built, by shop.prices; none by default.",
    )

    def ceilings(self) -> dict[Wish, float]:
        """Return the ceilings that are stated, by wish."""
        given: dict[Wish, float | None] = {
            "cutters": self.cutters_max,
            "ring_parts": self.ring_parts_max,
            "heads": self.heads_max,
            "material": self.material_max_kg,
            "cost": self.cost_max,
        }
        return {wish: most for wish, most in given.items() if most is not None}

    def canonical(self) -> Wishes:
        """Return the wishes with every give in one spelling: more than one blank counts as one."""
        give = {wish: _spelled(self.give[wish]) for wish in WISHES if wish in self.give}
        return self.model_copy(update={"give": give}) if give else self


def _spelled(stated: float | str) -> float | str:
    return " ".join(stated.split()) if isinstance(stated, str) else stated
