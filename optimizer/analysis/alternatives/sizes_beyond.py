"""Limits that a neighbour breaks beyond those on sizes: lists of counts and bores, sums of rings."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ringset.analysis.alternatives.models import Broken, Ring
from ringset.catalogue.joints import JointRef
from ringset.catalogue.limits import (
    catalogue_bore_steps,
    catalogue_heads_allowed,
    catalogue_teeth_not_cut,
)
from ringset.catalogue.rows import catalogue_bore_mm
from ringset.rating.ring_sums import RING_SUM_UNITS, rated_ring_sum_limit
from ringset.schema.study import Robot, Study


def alternatives_beside_lists(
    study: Study, ref: JointRef, place: int, ring: Ring
) -> Iterator[Broken]:
    """Yield head counts, bores and teeth that are not listed, each with the nearest that is."""
    if not catalogue_heads_allowed(ref.joint, ring.heads):
        near = min(ref.joint.head_counts, key=lambda count: abs(count - ring.heads))
        yield Broken(place, None, "head_counts", ring.heads, near, "heads")
    yield from _beside_the_bore_list(study, ref, place, ring)
    for field, nearest in catalogue_teeth_not_cut(study.shop, ring.teeth):
        yield Broken(place, None, field, ring.teeth, nearest, "teeth")


def _beside_the_bore_list(study: Study, ref: JointRef, place: int, ring: Ring) -> Iterator[Broken]:
    """Yield that a bore is not among those that a joint or the shop lists; the nearest one is allowed."""
    steps = catalogue_bore_steps(study, ref)
    if steps is None or ring.bore_steps in steps:
        return
    near = steps[np.argmin(np.abs(steps - ring.bore_steps))]
    value, allowed = catalogue_bore_mm(
        np.array([ring.bore_steps, near]), study.shop.bore_step_mm
    ).tolist()
    field = "shop.bores_mm" if ref.joint.bores_mm is None else "bores_mm"
    yield Broken(place, None, field, value, allowed, "mm")


def alternatives_beyond_ring_sum(robot: Robot, field: str, total: float) -> Iterator[Broken]:
    """Yield that the rings of a robot come to more than it allows; `total` is in the unit of the field."""
    limit = rated_ring_sum_limit(robot, field)
    if limit is not None and total > limit:
        stated = float(getattr(robot, field))
        yield Broken(None, robot.name, field, total, stated, RING_SUM_UNITS[field])
