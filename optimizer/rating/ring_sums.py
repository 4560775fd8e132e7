"""What the finished rings of one robot come to together: their mass, and their moments of inertia added up.

A row adds to each sum by its own ring, whatever its heads; a sum counts the rings of one robot, however many
are built. Rings are finished and not yet drilled, as in `finished_rings`.
"""

from __future__ import annotations

from collections.abc import Callable

from ringset.arrays import Floats
from ringset.catalogue.rows import Catalogue
from ringset.physics.limit_rule import rounding_allowance
from ringset.rating.finished_rings import rated_finished_inertia_kg_m2, rated_finished_kg
from ringset.schema.study import Robot, Study

#: What every row adds to a sum, by the field of a robot that bounds it, in the unit of the field.
RING_SUMS: dict[str, Callable[[Study, Catalogue], Floats]] = {
    "rings_mass_max_kg": rated_finished_kg,
    "rings_inertia_max_kg_m2": rated_finished_inertia_kg_m2,
}
#: Units of the sums, as people read them.
RING_SUM_UNITS = {"rings_mass_max_kg": "kg", "rings_inertia_max_kg_m2": "kg m2"}


def rated_ring_sum_limit(robot: Robot, field: str) -> float | None:
    """Return the limit of a robot's sum in the unit of its field, with room for rounding; None for none."""
    stated: float | None = getattr(robot, field)
    return None if stated is None else float(stated + rounding_allowance(stated))


def rated_ring_sums(study: Study) -> list[str]:
    """Return the fields of sums that some robot of a study bounds."""
    return [
        field
        for field in RING_SUMS
        if any(getattr(robot, field) is not None for robot in study.robots)
    ]
