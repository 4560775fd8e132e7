"""Mass and inertia of every joint's ring for a robot description (URDF `inertial`, an open format)."""

from __future__ import annotations

from xml.sax.saxutils import quoteattr

from ringset.drawing.part import drawn_transverse_kg_m2
from ringset.schema.answer import Answer, JointRing
from ringset.schema.study import Robot


def export_inertial_xml(robot: Robot, answer: Answer) -> str:
    """Return one link with its `inertial` per ring, joints in the order of the study.

    SI units. The frame stands in the middle of the ring's width, z along its axis; the ring is a prism
    of many equal teeth, so xx = yy and the products of inertia vanish.
    """
    rings = {ring.joint: ring for ring in answer.rings if ring.robot == robot.name}
    seconds = {ring.joint: ring for ring in answer.second_rings if ring.robot == robot.name}
    links = []
    for joint in robot.joints:
        links.append(_link(rings[joint.name], "ring"))
        if joint.name in seconds:
            links.append(_link(seconds[joint.name], "second ring"))
    return (
        "\n".join(
            [
                '<?xml version="1.0" encoding="UTF-8"?>',
                "<!-- Copy each inertial into the link that its ring turns with, placed by its origin.",
                "     SI units; frame in the middle of the ring's width, z along its axis. -->",
                f"<robot name={quoteattr(robot.name)}>",
                *links,
                "</robot>",
            ]
        )
        + "\n"
    )


def _link(ring: JointRing, what: str) -> str:
    across = drawn_transverse_kg_m2(ring)
    return (
        f"  <link name={quoteattr(f'{ring.joint} {what}')}>\n"
        "    <inertial>\n"
        '      <origin xyz="0 0 0" rpy="0 0 0"/>\n'
        f'      <mass value="{ring.finished_kg:.9g}"/>\n'
        f'      <inertia ixx="{across:.9g}" ixy="0" ixz="0" iyy="{across:.9g}" iyz="0" '
        f'izz="{ring.inertia_kg_m2:.9g}"/>\n'
        "    </inertial>\n"
        "  </link>"
    )
