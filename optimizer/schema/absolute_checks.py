"""What a study must state where a joint has to find its place after a power loss (`Joint.absolute`)."""

from __future__ import annotations

from collections.abc import Iterator

from ringset.errors import Fault
from ringset.physics.limit_rule import number_at_most
from ringset.schema.study import Study


def absolute_faults(study: Study) -> Iterator[Fault]:
    """Yield what a demand on a joint's place after power loss takes and the study does not state.

    A counter takes the battery of the robot, of the head its back-up polling and counter and that it draws
    a current from the battery (0: it counts nothing without power), and how fast the
    joint turns without power; the limits on these then hold in every answer. A second ring takes
    `second_ring`, and a range of one turn, for two rings do not tell turns apart.
    """
    for i, robot in enumerate(study.robots):
        for j, joint in enumerate(robot.joints):
            path = f"robots[{i}].joints[{j}]"
            needs = f"({path}.absolute {joint.absolute} needs it)"
            if joint.absolute == "counter":
                if joint.head is not None and joint.head not in study.heads:
                    continue  # a fault already
                head = study.head_of(joint)
                name = "head" if joint.head is None else f"heads.{joint.head}"
                for field, value in (
                    (f"robots[{i}].battery", robot.battery),
                    (f"{name}.backup_polling_ms", head.backup_polling_ms),
                    (f"{name}.backup_counter_bits", head.backup_counter_bits),
                    (f"{path}.unpowered_speed_rpm", joint.unpowered_speed_rpm),
                ):
                    if value is None:
                        yield Fault(field, "nothing", f"a value {needs}")
                if head.never_counts:
                    yield Fault(f"{name}.backup_current_ua", "0", f"more than 0 {needs}")
            if joint.absolute == "second_ring":
                if not joint.second_ring:
                    yield Fault(f"{path}.second_ring", "false", f"true {needs}")
                if not number_at_most(joint.turns_range, 1.0):
                    allowed = (
                        "at most 1 for absolute second_ring: two rings do not tell turns apart"
                    )
                    yield Fault(f"{path}.turns_range", f"{joint.turns_range:g}", allowed)
