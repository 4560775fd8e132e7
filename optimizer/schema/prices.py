"""What goes in, fourth part: the shop's prices, and what rings cost with them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated

from pydantic import Field, StringConstraints

from ringset.physics.quantity import Quantity
from ringset.schema.base import StudyModel

Money = Annotated[float, Field(ge=0.0, le=1e9)]


class Prices(StudyModel):
    """The shop's prices, all in one currency."""

    currency: Annotated[
        str, StringConstraints(max_length=20, pattern=r"^[^\x00-\x1f\x7f-\x9f=+@\-]*$")
    ] = Field(default="", description="Name of the currency, for people.")
    cutter: Money = Field(
        description="One hob, or one disc cutter of a set or special; only you know it."
    )
    set_up_per_ring_part: Money = Field(
        description="Set-up of one ring part (programme, fixture, first piece), once over all robots; "
        "only you know it."
    )
    material_per_kg: Money = Field(description="Blanks, by the kg; only you know it.")
    head: Money = Field(description="One reading head; only you know it.")
    machine_per_hour: Money = Field(
        description="Hour of the machine that cuts teeth; only you know it."
    )
    cutting_minutes_per_tooth: dict[
        Annotated[str, StringConstraints(pattern="^([1-9]|1[01])$")],
        Annotated[float, Field(ge=0.0, le=1e4)],
    ] = Field(
        description='Time to cut one tooth by flank class, such as {"6": 0.05}; the class of the shop '
        "must be among them, none is made up between classes; only you know it."
    )

    def cutting(self, flank_class: int, teeth: Quantity) -> Quantity:
        """Return the money of cutting `teeth` teeth of a class that has a time."""
        minutes = self.cutting_minutes_per_tooth[str(flank_class)]
        return teeth * (minutes * self.machine_per_hour / 60.0)

    def piece(self, flank_class: int, blank_kg: Quantity, teeth: Quantity) -> Quantity:
        """Return the money of one ring without set-up: material and cutting."""
        return blank_kg * self.material_per_kg + self.cutting(flank_class, teeth)


#: Said where a study states prices that nothing asks for.
IDLE_PRICES = (
    "shop.prices count nothing here: cost is none of the wishes and wishes.cost_max states no ceiling; "
    "the money told is only added up"
)


def study_idle_prices(
    prices: Prices | None, wishes: Iterable[str], cost_max: float | None
) -> list[str]:
    """Return IDLE_PRICES where prices are stated and neither a wish nor a ceiling (money) counts them."""
    idle = prices is not None and "cost" not in wishes and cost_max is None
    return [IDLE_PRICES] if idle else []
