"""What the rings of every robot of an answer come to together: mass, and inertia each about its own axis."""

from __future__ import annotations

import numpy as np

from ringset.catalogue.rows import Catalogue
from ringset.rating.finished_rings import rated_finished_inertia_kg_m2, rated_finished_kg
from ringset.schema.answer import RobotRings
from ringset.schema.study import Study


def composed_robot_rings(study: Study, chosen: Catalogue) -> list[RobotRings]:
    """Return the sums over one of each robot; `chosen` are the rows of an answer, one per joint."""
    mass, inertia = rated_finished_kg(study, chosen), rated_finished_inertia_kg_m2(study, chosen)
    found = []
    for robot in study.robots:
        mine = np.array([ref.robot.name == robot.name for ref in chosen.joints])[chosen.joint]
        found.append(
            RobotRings(
                robot=robot.name,
                rings_mass_kg=float(mass[mine].sum()),
                rings_mass_max_kg=robot.rings_mass_max_kg,
                rings_inertia_kg_m2=float(inertia[mine].sum()),
                rings_inertia_max_kg_m2=robot.rings_inertia_max_kg_m2,
            )
        )
    return found
