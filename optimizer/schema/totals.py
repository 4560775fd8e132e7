"""What comes out: what an answer comes to over all robots built, in pieces, mass and money."""

from __future__ import annotations

from pydantic import Field

from ringset.schema.answer_types import TotalKg
from ringset.schema.base import AnswerModel
from ringset.schema.proof import Count, CountFromOne, Money
from ringset.schema.ranking import Wish
from ringset.schema.standing import Counting


class Cost(AnswerModel):
    """Money over all robots built, in the currency of shop.prices."""

    cutters: Money
    set_up: Money
    material: Money
    cutting: Money
    heads: Money
    total: Money


class Totals(AnswerModel):
    """Totals over all robots built."""

    cutters: Count = Field(description="Those that count, see counted.")
    ring_parts: Count = Field(description="Those that count, see counted.")
    counted: Counting | None = Field(
        default=None,
        exclude_if=lambda counted: counted is None,
        description="Whether cutters and ring parts are only new ones or all (wishes.count); absent where "
        "the study states none that are there already.",
    )
    cutters_owned: Count = Field(
        default=0,
        exclude_if=lambda many: many == 0,
        description="Cutters of the answer that the shop owns; absent without any.",
    )
    parts_in_production: Count = Field(
        default=0,
        exclude_if=lambda many: many == 0,
        description="Ring parts of the answer that are in production; absent without any.",
    )
    heads: CountFromOne
    material_kg: TotalKg = Field(description="Turned blanks.")
    finished_kg: TotalKg
    cost: Cost | None = Field(description="null without shop.prices.")

    def by_wish(self) -> dict[Wish, float]:
        """Return what every wish comes to in its own unit (pieces, kg, money); cost only with shop.prices."""
        money: dict[Wish, float] = {} if self.cost is None else {"cost": self.cost.total}
        return {
            "cutters": self.cutters, "ring_parts": self.ring_parts, "heads": self.heads,
            "material": self.material_kg, **money,
        }  # fmt: skip
