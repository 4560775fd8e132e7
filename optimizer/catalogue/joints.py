"""The joints of a study in canonical order, and what shop and head allow each of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringset.arrays import Floats
from ringset.physics import head_averaging as heads
from ringset.schema.equipment import Head
from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.schema.study import Robot, Study


@dataclass(frozen=True)
class JointRef:
    """A joint with its robot, the head that reads it, and its angle target in arcsec (above 0)."""

    robot: Robot
    joint: Joint
    head: Head
    target_arcsec: float

    @property
    def label(self) -> str:
        """Robot and joint as one name."""
        return f"{self.robot.name}/{self.joint.name}"


def catalogue_joints(study: Study) -> tuple[JointRef, ...]:
    """Return every joint of a canonical study, in its order: the index space of `Catalogue.joint`."""
    return tuple(
        JointRef(robot, joint, study.head_of(joint), study.target_of(joint))
        for robot in study.robots
        for joint in robot.joints
    )


def head_angles_deg(joint: Joint, count: int) -> tuple[float, ...]:
    """Return where `count` heads (1 to 8) stand on `joint`, in degrees: as stated, else equally spaced."""
    return tuple(joint.head_angles_deg.get(str(count), heads.equal_angles_deg(count)))


def shop_modules(shop: Shop) -> Floats:
    """Return the shop's modules, float64 in mm, ascending and each once: what `Catalogue.module` indexes."""
    return np.array(shop.modules_mm(), dtype=np.float64)
