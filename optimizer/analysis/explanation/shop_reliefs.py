"""Reliefs by the shop: a module more where none on offer comes near a joint, a finer bore step.

Neither is a limit with a number on a scale: modules come from the standard series, the nearest to those on
offer first, bore steps from a few usual ones, the coarsest first. The study relieved is solved each time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from ringset.analysis.explanation.joint_conflicts import explained_lack_of_pairs
from ringset.analysis.explanation.reliefs import Relief
from ringset.analysis.explanation.widened import Universe
from ringset.catalogue.joints import catalogue_joints, catalogue_modules
from ringset.catalogue.windows import catalogue_usable_modules
from ringset.infeasibility.models import Blocker
from ringset.rating.stated_limits import Limit
from ringset.schema.study import Study
from ringset.standards.modules import standard_series_modules

#: Modules that a shop might add, and bore steps in mm that it might work to (assumed: usual ones).
SERIES, BORE_STEPS_MM = "din780_i", (5.0, 2.0, 1.0, 0.5, 0.2, 0.1)
#: Most modules that are tried.
MODULES_TRIED = 8


def explained_shop_reliefs(
    world: Universe, blockers: list[Blocker], possible: Callable[[Relief], bool]
) -> list[Relief]:
    """Return the nearest module and the coarsest bore step, where either clears all blockers."""
    stuck = [blocker for blocker in blockers if blocker.joint is not None]
    options: list[Iterator[Relief]] = []
    if any(not blocker.limits or explained_lack_of_pairs(world, blocker) for blocker in stuck):
        options.append(_modules(world.study))
    fields = [{world.limits[number].field for number in blocker.limits} for blocker in stuck]
    if any({"bore_min_mm", "bore_max_mm"} <= names for names in fields):
        options.append(_bore_steps(world.study))
    found = [next((relief for relief in reliefs if possible(relief)), None) for reliefs in options]
    return [relief for relief in found if relief is not None]


def _modules(study: Study) -> Iterator[Relief]:
    """Yield each module that a head reads and the shop has not, the nearest to one it has first."""
    offered = [float(module) for module in catalogue_modules(study.shop)]
    series = np.array(standard_series_modules(SERIES))
    usable = {
        i
        for ref in catalogue_joints(study)
        for i in catalogue_usable_modules(study, ref, series).tolist()
    }
    found = []
    for module in series[sorted(usable)].tolist():
        nearest = min(offered, key=lambda own: abs(own - module) / own)
        found.append((abs(module - nearest) / nearest, module, nearest))
    for away, module, nearest in sorted(found)[:MODULES_TRIED]:
        if away > 0.0:
            path = "shop.modules"
            limit = Limit(
                path,
                path,
                "modules {} mm",
                nearest,
                "counts",
                0.01,
                "mm",
                None,
                None,
                tuple(offered),
            )
            yield Relief(((limit, module),))


def _bore_steps(study: Study) -> Iterator[Relief]:
    """Yield finer bore steps, the coarsest first; each is one step of a limit of its own."""
    given, path = study.shop.bore_step_mm, "shop.bore_step_mm"
    for finer in BORE_STEPS_MM:
        if finer < given:
            limit = Limit(
                path, path, "bores in steps of {} mm", given, "at least", given - finer, "mm"
            )
            yield Relief(((limit, finer),))
