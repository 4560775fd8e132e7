"""Every total of compared answers, side by side: counts, mass, money, tool points, largest errors.

On another basis than an answer states, a tool point is worked out anew from each joint's own budget.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from ringset.analysis.comparison.models import Basis, ComparedTotal, TotalName
from ringset.physics.toolpoint import combined_lever_error_um
from ringset.schema.answer import Answer, JointRing, ToolPoint

Number = int | float
#: What of a ring's budget is its error, and what its repeatability, by basis.
ERRORS: dict[Basis, str] = {"expanded": "expanded_arcsec", "worst_case": "worst_case_arcsec"}
SCATTERS: dict[Basis, str] = {
    "expanded": "repeatability_expanded_arcsec",
    "worst_case": "repeatability_worst_case_arcsec",
}


def compared_differences(
    values: Sequence[Number | None], reference: int | None
) -> list[Number | None]:
    """Return each value minus that of the reference; null where one of the two is missing."""
    first = None if reference is None else values[reference]
    return [None if v is None or first is None else v - first for v in values]


def compared_totals(
    answers: Sequence[Answer], bases: Sequence[Basis], reference: int | None
) -> Iterator[ComparedTotal]:
    """Yield every total across the answers, then tool points and largest errors, basis by basis."""

    def across(name: str, values: list[Number | None], **more: object) -> ComparedTotal:
        fields = {"robot": None, "basis": None, "targets_um": None, "joints": None} | more
        change = compared_differences(values, reference)
        return ComparedTotal.model_validate(
            {"name": name, "values": values, "differences": change, **fields}
        )

    names: tuple[TotalName, ...] = (
        "cutters", "ring_parts", "heads", "material_kg", "finished_kg",
    )  # fmt: skip
    for name in names:
        yield across(name, [getattr(a.totals, name) if a.totals else None for a in answers])
    there: tuple[TotalName, ...] = ("cutters_owned", "parts_in_production")
    for name in there:
        many = [getattr(a.totals, name) if a.totals else None for a in answers]
        if any(many):
            yield across(name, many)
    money = [a.totals.cost.total if a.totals and a.totals.cost else None for a in answers]
    if any(total is not None for total in money):
        yield across("cost", money)
    for name, robot, sums in _ring_sums(answers):
        yield across(name, sums, robot=robot)
    points = [{point.robot: point for point in answer.tool_points} for answer in answers]
    for robot in dict.fromkeys(robot for mine in points for robot in mine):
        for scatter, name in ((False, "tool_point_um"), (True, "tool_point_repeatability_um")):
            asked = "repeatability_target_um" if scatter else "target_um"
            targets = [getattr(mine[robot], asked) if robot in mine else None for mine in points]
            for basis in bases:
                reached = [
                    _tool_point_um(answer, mine.get(robot), basis, scatter)
                    for answer, mine in zip(answers, points, strict=True)
                ]
                if any(reached):
                    yield across(name, reached, robot=robot, basis=basis, targets_um=targets)
    for name, angle in (
        ("largest_error_arcsec", compared_error_arcsec),
        ("largest_repeatability_arcsec", compared_repeatability_arcsec),
    ):
        for basis in bases:
            worst = [_largest(answer, basis, angle) for answer in answers]
            yield across(
                name,
                [None if ring is None else angle(ring, basis) for ring in worst],
                basis=basis,
                joints=[None if ring is None else ring.label for ring in worst],
            )


def _ring_sums(answers: Sequence[Answer]) -> Iterator[tuple[TotalName, str, list[Number | None]]]:
    """Yield mass and inertia of every robot's rings, where some answer's study limits them."""
    robots = [{one.robot: one for one in answer.robot_rings} for answer in answers]
    names: tuple[tuple[TotalName, str], ...] = (
        ("rings_mass_kg", "rings_mass_max_kg"),
        ("rings_inertia_kg_m2", "rings_inertia_max_kg_m2"),
    )
    for robot in dict.fromkeys(robot for mine in robots for robot in mine):
        known = [mine.get(robot) for mine in robots]
        for name, limit in names:
            if any(one is not None and getattr(one, limit) is not None for one in known):
                yield name, robot, [None if one is None else getattr(one, name) for one in known]


def compared_error_arcsec(ring: JointRing, basis: Basis) -> float:
    """Return the error of a ring on its joint in arcsec on one of the two bases."""
    return float(getattr(ring.budget, ERRORS[basis]))


def compared_repeatability_arcsec(ring: JointRing, basis: Basis) -> float:
    """Return the repeatability of a ring on its joint in arcsec on one of the two bases."""
    return float(getattr(ring.budget, SCATTERS[basis]))


def _largest(
    answer: Answer, basis: Basis, angle: Callable[[JointRing, Basis], float]
) -> JointRing | None:
    return max(answer.rings, key=lambda ring: angle(ring, basis), default=None)


def _tool_point_um(
    answer: Answer, point: ToolPoint | None, basis: Basis, scatter: bool
) -> float | None:
    """Return a robot's error or repeatability at the tool point: as stated, or on the other basis.

    A joint's own share is its reach times its angle, so on the other basis it is larger or smaller as that
    angle is.
    """
    if point is None or basis == answer.basis:
        if point is None:
            return None
        return point.repeatability_um if scatter else point.error_um
    angle = compared_repeatability_arcsec if scatter else compared_error_arcsec
    own = "tool_point_repeatability_um" if scatter else "tool_point_um"
    levers = [
        getattr(ring, own) * angle(ring, basis) / angle(ring, answer.basis)
        for ring in answer.rings
        if ring.robot == point.robot and getattr(ring, own) > 0.0 < angle(ring, answer.basis)
    ]
    return combined_lever_error_um(np.array(levers), point.rule)
