"""From chosen rows to the answer: rings, parts, cutters, totals, margins and cautions."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import numpy as np

from ringset._version import versions
from ringset.catalogue.bore_zones import catalogue_bore_zone
from ringset.catalogue.joints import catalogue_head_angles_deg
from ringset.physics import budget as physics
from ringset.physics import geometry, resolution, toolpoint
from ringset.physics.budget_terms import TERMS
from ringset.physics.quantity import Quantity
from ringset.rating.rated import RatedInFull
from ringset.rating.sizes import rated_profile_error_um
from ringset.schema.absolute import Place, study_absolute_sentences
from ringset.schema.answer import (
    CAUTIONS,
    Answer,
    Budget,
    Cost,
    Cutter,
    JointRing,
    Proof,
    RingPart,
    Stage,
    Status,
    Term,
    Totals,
)  # fmt: skip
from ringset.schema.earlier_names import EarlierNames, answer_ring_key
from ringset.schema.part_numbers import PartNumbers, part_name_order
from ringset.schema.prices import study_idle_prices
from ringset.schema.study import Study
from ringset.schema.targets import answer_target_left_percent
from ringset.schema.true_rack import study_rack
from ringset.solving.answer_warnings import composed_answer_warnings
from ringset.solving.electronics import (
    composed_joint_electronics,
    composed_joint_place,
    composed_robot_electronics,
)
from ringset.solving.face_screws import (
    composed_screw_face,
    composed_screw_hole_cuts,
    composed_screws,
)
from ringset.solving.margins import solved_margins
from ringset.solving.part_names import (
    PartKey,
    composed_part_key,
    composed_part_names,
    composed_standing_names,
)
from ringset.solving.robot_rings import composed_robot_rings
from ringset.solving.second_rings import (
    solved_ring_with_second_part,
    solved_second_ratings,
    solved_second_ring,
)
from ringset.solving.tool_points import composed_percent_left, composed_tool_points
from ringset.standards import cutters
from ringset.standards.materials import standard_material_in_full


@dataclass(frozen=True)
class Searched:
    """What the search had before it: counts for the proof."""

    rings_possible: int
    rows_possible: int
    rows_searched: int
    material_unit_kg: float
    cost_unit: float


def compose(
    study: Study, chosen: RatedInFull | None, status: Status, reasons: list[str], stages: list[Stage],
    searched: Searched, repeatable: bool, earlier: EarlierNames | None = None,
) -> Answer:  # fmt: skip
    """Return the answer for the chosen rows, one per joint in canonical order; None for no answer.

    Rings that an `earlier` answer had keep its names.
    """
    rings = composed_joint_rings(study, chosen) if chosen is not None else []
    seconds = _second_rings(study, chosen, rings) if chosen is not None else []
    parts, tools, numbers = _parts_and_cutters(study, [*rings, *seconds], earlier)
    by_key = {composed_part_key(part): part for part in parts}
    seconds = [_named(study, ring, by_key) for ring in seconds]
    second_part = {ring.place: ring.ring_part for ring in seconds}
    rings = [
        solved_ring_with_second_part(_named(study, ring, by_key), second_part.get(ring.place))
        for ring in rings
    ]
    return Answer(
        title=study.title,
        study_sha256=study.fingerprint(),
        status=status,
        basis=study.target.basis,
        reserve_percent=study.target.reserve_percent,
        reasons=reasons,
        absolute=composed_answer_places(rings),
        rings=rings,
        second_rings=seconds,
        ring_parts=parts,
        part_numbers=numbers if rings else None,
        cutters=tools,
        tool_points=composed_tool_points(study, rings) if rings else [],
        robot_rings=[] if chosen is None else composed_robot_rings(study, chosen.catalogue),
        electronics=composed_robot_electronics(study, rings) if rings else [],
        totals=_totals(study, [*rings, *seconds], parts, tools) if rings else None,
        proof=Proof(
            stages=stages,
            material_unit_kg=searched.material_unit_kg,
            cost_unit=searched.cost_unit if study.shop.prices is not None else 0.0,
            rings_possible=searched.rings_possible,
            rows_possible=searched.rows_possible,
            rows_searched=searched.rows_searched,
            seed=study.search.seed,
            workers=study.search.workers,
            repeatable=repeatable,
            versions=versions(),
        ),
        warnings=[
            *composed_answer_warnings(study, [*rings, *seconds], parts),
            *(_idle_prices(study) if rings else []),
        ],
        cautions=CAUTIONS,
    )


def _second_rings(
    study: Study, chosen: RatedInFull, rings: list[JointRing]
) -> list[JointRing]:  # fmt: skip
    """Return the second rings of the chosen rows, whose rings are at hand, in their order."""
    rated = solved_second_ratings(study, chosen.catalogue)
    if rated is None:
        return []
    first = {ring.place: ring for ring in rings}
    return [
        solved_second_ring(ring, first[ring.place]) for ring in composed_joint_rings(study, rated)
    ]


def composed_answer_places(rings: list[JointRing]) -> list[str]:
    """Return what an answer says of its joints after power loss, from what its rings say each."""
    return study_absolute_sentences(
        [
            Place(r.label, r.absolute_by, r.turns_known, r.electronics.unpowered_speed_max_rpm)
            for r in rings
        ]
    )


def _idle_prices(study: Study) -> list[str]:
    return study_idle_prices(study.shop.prices, study.wishes.order, study.wishes.cost_max)


def composed_joint_rings(study: Study, chosen: RatedInFull) -> list[JointRing]:
    """Return every row of `chosen` as a joint's ring, as `composed_joint_ring` does."""
    return [composed_joint_ring(study, chosen, row) for row in range(len(chosen.catalogue))]


def composed_joint_ring(study: Study, rated: RatedInFull, row: int) -> JointRing:
    """Return one row as the ring of its joint; names of ring part and cutter are left open.

    Screw holes belong to a ring part and so to all joints that share it: they are not yet taken out.
    Raises ValidationError where some number of the row is not finite.
    """
    rows, shop = rated.catalogue, study.shop
    ref = rows.joints[int(rows.joint[row])]
    module, teeth = float(rows.module_mm()[row]), int(rows.teeth[row])
    bore, heads = float(rows.bore_mm()[row]), int(rows.heads[row])
    rack = study_rack(shop, module)
    width, head, zone = (
        ref.joint.face_width_mm,
        ref.head,
        catalogue_bore_zone(shop, ref.joint, bore),
    )
    section = geometry.toothed_section(
        module, teeth, bore, addendum=rack.addendum, dedendum=rack.dedendum,
        fillet=rack.root_fillet, pressure_angle_deg=rack.pressure_angle_deg,
        shift=shop.profile_shift,
    )  # fmt: skip
    density = shop.ring_material.density_kg_per_m3
    electronics = composed_joint_electronics(study, rated, row)
    place = composed_joint_place(rated, row, electronics)
    tip, error = float(rated.tip_mm[row]), float(rated.error_arcsec[row])
    scatter, scatter_most = float(rated.repeatability_arcsec[row]), ref.scatter_target_arcsec
    return JointRing(
        robot=ref.robot.name,
        joint=ref.joint.name,
        ring_part="",
        cutter=_cutter_name(study, module, teeth),
        module_mm=module,
        teeth=teeth,
        profile_shift=shop.profile_shift,
        flank_class=shop.flank_class,
        profile_error_um=rated_profile_error_um(shop, module, teeth),
        pitch_diameter_mm=float(rated.pitch_mm[row]),
        tip_diameter_mm=tip,
        root_diameter_mm=float(rated.root_mm[row]),
        material=standard_material_in_full(shop.material, shop.material_treatment),
        bore_mm=bore,
        bore_lower_um=zone.lower_um,
        bore_upper_um=zone.upper_um,
        tooth_depth_mm=float(geometry.whole_depth_mm(module, rack.addendum, rack.dedendum)),
        rim_mm=float(rated.rim_mm[row]),
        face_width_mm=width,
        blank_kg=float(geometry.mass_kg(geometry.annulus_section(tip, bore), width, density)),
        finished_kg=float(geometry.mass_kg(section, width, density)),
        inertia_kg_m2=float(geometry.inertia_kg_m2(section, width, density)),
        gap_mm=float(rated.gap_mm[row]),
        gap_left_mm=float(rated.gap_left_mm[row]),
        housing_diameter_mm=tip + 2.0 * (float(rated.gap_mm[row]) + head.height_above_tips_mm),
        heads=heads,
        head_angles_deg=list(catalogue_head_angles_deg(ref.joint, heads)),
        budget=_budget(rated.budget, row),
        error_arcsec=error,
        target_arcsec=ref.target_arcsec,
        target_left_percent=answer_target_left_percent(error, ref.target_arcsec),
        repeatability_arcsec=scatter,
        repeatability_target_arcsec=scatter_most,
        repeatability_left_percent=composed_percent_left(scatter, scatter_most),
        displayed_bits=head.position_bits,
        displayed_step_arcsec=float(resolution.step_arcsec(head.position_bits)),
        usable_bits=float(rated.usable_bits[row]),
        tool_point_um=float(toolpoint.lever_error_um(ref.joint.reach_mm, error)),
        tool_point_repeatability_um=float(toolpoint.lever_error_um(ref.joint.reach_mm, scatter)),
        absolute_by=place.absolute_by,
        turns_known=place.turns_known,
        electronics=electronics,
        margins=solved_margins(rated.checks, row),
    )


def _budget(budget: physics.Budget, row: int) -> Budget:
    def at(value: Quantity) -> float:
        return float(np.ravel(value)[row if np.size(value) > 1 else 0])

    terms = [
        Term(
            name=name,
            amplitude_arcsec=at(budget.amplitude[name]),
            standard_arcsec=at(budget.standard[name]),
            repeats=kind.repeats,
        )
        for name, kind in TERMS.items()
    ]
    return Budget(
        terms=terms,
        combined_arcsec=at(budget.combined),
        expanded_arcsec=at(budget.expanded),
        worst_case_arcsec=at(budget.worst_case),
        repeatability_expanded_arcsec=at(budget.repeatability_expanded),
        repeatability_worst_case_arcsec=at(budget.repeatability_worst_case),
    )


def _cutter_name(study: Study, module: float, teeth: int) -> str | None:
    """Return a provisional cutter name that is equal for equal cutters."""
    if study.shop.cutting == "wire":
        return None
    if study.shop.cutting == "hob":
        return f"{module!r}|all teeth"
    if study.shop.cutting == "disc_special":
        return f"{module!r}|{cutters.standard_special_disc_label(teeth, study.shop.profile_shift)}"
    index = int(cutters.standard_disc_range_index(study.shop.cutting, teeth))
    return f"{module!r}|{cutters.standard_disc_label(study.shop.cutting, index)}"


def _parts_and_cutters(
    study: Study, rings: list[JointRing], earlier: EarlierNames | None
) -> tuple[list[RingPart], list[Cutter], PartNumbers | None]:
    """Return ring parts by number and cutters by size, and what became of the names of earlier parts."""
    users: dict[PartKey, list[JointRing]] = defaultdict(list)
    for ring in rings:
        users[composed_part_key(ring)].append(ring)
    counts = {robot.name: robot.count for robot in study.robots}
    joints = {(r.name, joint.name): joint for r in study.robots for joint in r.joints}
    smallest_first = sorted(
        {ring.cutter: ring for ring in rings if ring.cutter is not None}.items(),
        key=lambda item: (item[1].module_mm, item[1].teeth),
    )
    cutter_id = {name: f"C{i}" for i, (name, _) in enumerate(smallest_first, start=1)}
    by_size = [mine for _, mine in sorted(users.items())]
    standing = composed_standing_names(study, [mine[0] for mine in by_size])
    unnamed = [
        RingPart(
            id="",
            cutter=cutter_id.get(mine[0].cutter or ""),
            module_mm=mine[0].module_mm,
            pitch_name=study.shop.pitch_name(mine[0].module_mm),
            teeth=mine[0].teeth,
            material=mine[0].material,
            bore_mm=mine[0].bore_mm,
            bore_zone=catalogue_bore_zone(
                study.shop, joints[(mine[0].robot, mine[0].joint)], mine[0].bore_mm
            ).name,
            bore_lower_um=mine[0].bore_lower_um,
            bore_upper_um=mine[0].bore_upper_um,
            face_width_mm=mine[0].face_width_mm,
            rim_mm=mine[0].rim_mm,
            tip_diameter_mm=mine[0].tip_diameter_mm,
            screws=composed_screws(
                study.shop,
                [joints[(ring.robot, ring.joint)] for ring in mine],
                composed_screw_face(study.shop, mine[0]),
            ),
            in_production=stands is not None,
            used_on=[ring.label for ring in mine],
            quantity=sum(counts[ring.robot] for ring in mine),
        )
        for mine, stands in zip(by_size, standing, strict=True)
    ]
    keys = [
        answer_ring_key(mine[0], part.screws) for mine, part in zip(by_size, unnamed, strict=True)
    ]
    taken = [part.name for part in study.shop.parts_in_production]
    names, numbers = composed_part_names(study.shop.part_prefix, keys, earlier, standing, taken)
    parts = sorted(
        (part.model_copy(update={"id": name}) for part, name in zip(unnamed, names, strict=True)),
        key=lambda part: part_name_order(part.id),
    )
    tools = [
        Cutter(
            id=cutter_id[name],
            kind="hob" if study.shop.cutting == "hob" else "disc cutter",
            module_mm=ring.module_mm,
            pitch_name=study.shop.pitch_name(ring.module_mm),
            tooth_range=str(name).split("|")[1],
            owned=study.shop.owns_cutter(ring.module_mm, ring.teeth),
            ring_parts=[part.id for part in parts if part.cutter == cutter_id[name]],
        )
        for name, ring in smallest_first
    ]
    return parts, tools, numbers


def _named(study: Study, ring: JointRing, parts: dict[PartKey, RingPart]) -> JointRing:
    """Return the ring with the final names of its part and cutter, and with the holes of its part."""
    part = parts[composed_part_key(ring)]
    named = ring.model_copy(update={"ring_part": part.id, "cutter": part.cutter})
    return composed_screw_hole_cuts(study.shop, named, part.screws)


def _totals(
    study: Study, rings: list[JointRing], parts: list[RingPart], tools: list[Cutter]
) -> Totals:
    counts = {robot.name: robot.count for robot in study.robots}
    every = study.wishes.count == "all"
    return Totals(
        cutters=sum(every or not tool.owned for tool in tools),
        ring_parts=sum(every or not part.in_production for part in parts),
        counted=study.wishes.count if study.shop.has_standing else None,
        cutters_owned=sum(tool.owned for tool in tools),
        parts_in_production=sum(part.in_production for part in parts),
        heads=sum(ring.heads * counts[ring.robot] for ring in rings),
        material_kg=sum(ring.blank_kg * counts[ring.robot] for ring in rings),
        finished_kg=sum(ring.finished_kg * counts[ring.robot] for ring in rings),
        cost=_cost(study, rings, parts, tools),
    )


def _cost(
    study: Study, rings: list[JointRing], parts: list[RingPart], tools: list[Cutter]
) -> Cost | None:
    prices = study.shop.prices
    if prices is None:
        return None
    counts = {robot.name: robot.count for robot in study.robots}
    lines = {
        "cutters": prices.cutter * sum(not tool.owned for tool in tools),
        "set_up": prices.set_up_per_ring_part * sum(not part.in_production for part in parts),
        "material": sum(prices.material_per_kg * r.blank_kg * counts[r.robot] for r in rings),
        "cutting": sum(
            float(prices.cutting(study.shop.flank_class, ring.teeth)) * counts[ring.robot]
            for ring in rings
        ),
        "heads": sum(prices.head * ring.heads * counts[ring.robot] for ring in rings),
    }
    return Cost(**lines, total=sum(lines.values()))
