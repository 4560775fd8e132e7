"""What an answer says of the rings of a robot together, for people."""

from __future__ import annotations

from ringset.schema.answer import Answer, RobotRings
from ringset.wording import wording_wrapped


def robot_rings_text(answer: Answer) -> str:
    """Return mass and inertia of every robot's rings where either is limited; empty where none is."""
    told = [
        one
        for one in answer.robot_rings
        if one.rings_mass_max_kg is not None or one.rings_inertia_max_kg_m2 is not None
    ]
    if not told:
        return ""
    title = "All rings of one robot together (finished, before screw holes, without heads)"
    return "\n".join([title, *(wording_wrapped(_words(one), "  ") for one in told)])


def _words(one: RobotRings) -> str:
    mass = f"{one.rings_mass_kg:.4g} kg{_most(one.rings_mass_max_kg, 1.0, 'kg')}"
    inertia = f"{1e6 * one.rings_inertia_kg_m2:.4g} kg mm2"
    inertia += _most(one.rings_inertia_max_kg_m2, 1e6, "kg mm2")
    return f"{one.robot}: mass {mass}; inertia (each about its own axis) {inertia}"


def _most(most: float | None, scale: float, unit: str) -> str:
    return "" if most is None else f" (at most {scale * most:.6g} {unit})"
