"""What rated rows add up to, over all robots built: pieces, kg, money, and the sums of their robots."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from ringset.arrays import Floats, Ints
from ringset.catalogue.bore_zones import catalogue_bore_limits_um
from ringset.physics.limit_rule import number_in_whole_units
from ringset.rating.rated import Rated
from ringset.rating.ring_sums import RING_SUMS, rated_ring_sums
from ringset.rating.robot_sums import (
    rated_battery_shares_ua,
    rated_pieces_money,
    rated_tool_point_shares,
)
from ringset.rating.standing import rated_cutters_owned, rated_parts_standing
from ringset.schema.study import TOOL_POINT_TARGETS, Study

#: What makes rings one part: place of the module, teeth, bore steps, face width in mm, and the lower and
#: upper limit of the bore in um.
PartKey = tuple[int, int, int, float, float, float]


@dataclass(frozen=True)
class Amounts:
    """What every row comes to: its part, that of its second ring and its cutter (-1 for none), and amounts.

    Amounts are over all robots built. `standing` holds the names of the parts that are in production, `owned`
    the cutters that the shop has: they cost nothing once, and do not count where only what is new does.
    `taken` are all names of parts in production.

    `kg_units` and `money_units` are whole units, rounded up row by row as the search counts them; money is
    without what comes once (cutters, set-up). Sums of a robot are uA, and um or um^2 by the field of the
    target at the tool point; those of its rings (`rating.ring_sums`) stand by the field that bounds them, in
    its unit.
    """

    part: list[PartKey]
    second: list[PartKey | None]
    cutter: Ints
    heads: Ints
    kg: Floats
    kg_units: Ints
    money: Floats
    money_units: Ints
    tool_point: dict[str, Floats]
    battery_ua: Floats
    ring_sums: dict[str, Floats]
    standing: dict[PartKey, str]
    owned: frozenset[int]
    taken: frozenset[str]

    def parts(self, rows: Iterable[int]) -> list[PartKey]:
        """Return the ring parts of some rows, of their rings and of their second ones."""
        every = (one for row in rows for one in (self.part[row], self.second[row]))
        return [part for part in every if part is not None]


def alternatives_amounts(study: Study, rated: Rated, units: tuple[float, float]) -> Amounts:
    """Return the amounts of rated rows; `units` are those of material in kg and of money."""
    rows = rated.catalogue
    built = np.array([ref.robot.count for ref in rows.joints], dtype=np.int64)[rows.joint]
    kg, money = rated.blank_kg * built, rated_pieces_money(study, rated, built)
    width = rows.per_joint(lambda r: r.joint.face_width_mm)
    lower, upper = catalogue_bore_limits_um(rows)
    keys = (rows.module, rows.teeth, rows.bore_steps, width, lower, upper)
    part = list(zip(*(key.tolist() for key in keys), strict=True))
    partner = rows.partner_teeth()
    second = [
        (one[0], other, *one[2:]) if other else None
        for one, other in zip(part, partner.tolist(), strict=True)
    ]
    names = [one.name for one in study.shop.parts_in_production]
    standing = {}
    for keys_of, teeth in ((part, rows.teeth), (second, partner)):
        places = rated_parts_standing(study, rows, teeth)
        for row in np.flatnonzero(places >= 0).tolist():
            standing[keys_of[row]] = names[places[row]]
    return Amounts(
        part=part,
        second=second,
        standing={key: name for key, name in standing.items() if key is not None},
        owned=frozenset(rated.cutter[rated_cutters_owned(study, rated)].tolist()),
        taken=frozenset(names),
        cutter=rated.cutter,
        heads=rated.all_heads * built,
        kg=kg,
        kg_units=number_in_whole_units(kg, units[0]),
        money=money,
        money_units=number_in_whole_units(money, units[1]),
        tool_point={field: rated_tool_point_shares(rated, field) for field in TOOL_POINT_TARGETS},
        battery_ua=rated_battery_shares_ua(rated),
        ring_sums={field: RING_SUMS[field](study, rows) for field in rated_ring_sums(study)},
    )
