"""The joints of a study in canonical order, and what shop and head allow each of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Self

import numpy as np

from ringset.arrays import Floats
from ringset.physics import head_averaging as heads
from ringset.schema.equipment import Head
from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.schema.study import Robot, Study


@dataclass(frozen=True)
class JointRef:
    """A joint with its robot, the head that reads it, and its targets in arcsec (above 0; None for none).

    `target_arcsec` is that of its angle error, `scatter_target_arcsec` that of its repeatability.
    """

    robot: Robot
    joint: Joint
    head: Head
    target_arcsec: float
    scatter_target_arcsec: float | None

    @property
    def scatter_most_arcsec(self) -> float:
        """Its repeatability target in arcsec; infinity for none."""
        return np.inf if self.scatter_target_arcsec is None else self.scatter_target_arcsec

    @property
    def label(self) -> str:
        """Robot and joint as one name."""
        return f"{self.robot.name}/{self.joint.name}"

    def with_head_counts(self, counts: Iterable[int]) -> Self:
        """Return the joint with these head counts in place of its own."""
        joint = self.joint.model_copy(update={"head_counts": sorted(counts)})
        return replace(self, joint=joint)

    @property
    def least_around_mm(self) -> float:
        """How much wider than the tips the housing must be in mm, at the narrowest gap of the head."""
        return self.head.around_tips_mm(self.head.narrowest_gap_mm)


def catalogue_joint(study: Study, robot: Robot, joint: Joint) -> JointRef:
    """Return a joint of a robot as the study has it read and what it asks of it."""
    target, repeats = study.target_of(joint), study.repeatability_target_of(joint)
    return JointRef(robot, joint, study.head_of(joint), target, repeats)


def catalogue_joints(study: Study) -> tuple[JointRef, ...]:
    """Return every joint of a canonical study, in its order: the index space of `Catalogue.joint`."""
    return tuple(
        catalogue_joint(study, robot, joint) for robot in study.robots for joint in robot.joints
    )


def catalogue_head_angles_deg(joint: Joint, count: int) -> tuple[float, ...]:
    """Return where `count` heads (1 to 8) stand on `joint`, in degrees: as stated, else equally spaced."""
    return tuple(joint.head_angles_deg.get(str(count), heads.equal_angles_deg(count)))


def catalogue_modules(shop: Shop) -> Floats:
    """Return the shop's modules, float64 in mm, ascending and each once: what `Catalogue.module` indexes."""
    return np.array(shop.modules_mm(), dtype=np.float64)
