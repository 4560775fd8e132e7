"""What the sheet of one ring part says: its numbers as rows, its notes as sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from ringset.drawing.blocks import Row
from ringset.drawing.views import Holes, Shape
from ringset.manufacturing.condition import shop_counted_yield, shop_ordered_material
from ringset.physics.tooth_profile import rack_tooth_profile
from ringset.schema.answer import Answer, JointRing, RingPart
from ringset.schema.joint import Joint
from ringset.schema.shop import Shop
from ringset.schema.study import Study
from ringset.schema.true_rack import study_rack
from ringset.standards import iso286
from ringset.standards.iso286 import iso286_deviations_um
from ringset.standards.iso1328 import (
    iso1328_cumulative_pitch_um,
    iso1328_helix_total_um,
    iso1328_profile_form_um,
    iso1328_profile_slope_um,
    iso1328_profile_total_um,
    iso1328_round_um,
    iso1328_runout_um,
    iso1328_single_pitch_um,
)
from ringset.standards.racks import Rack
from ringset.wording import wording_of_module

#: Where the shop data say nothing else: turned below nominal, so that tip_max_mm holds.
TIP_ZONE = "h9"


@dataclass(frozen=True)
class ScrewOrder:
    """The screws of one joint that has them: socket heads of class 8.8, heads away from the hub.

    `count` of them hold one ring, `pieces` rings are built; `hub` is the material with the thread, at
    least `engaged_mm` of which they need, and `thread_mm` deep, as far as they come. `length_mm` None: no
    listed length is long enough.
    """

    robot: str
    joint: str
    size: str
    count: int
    pieces: int
    length_mm: float | None
    engaged_mm: float
    thread_mm: float
    hub: str

    @property
    def name(self) -> str:
        """Return what is written on the order, such as M3 x 12 ISO 4762-8.8."""
        length = "longer than listed" if self.length_mm is None else f"{self.length_mm:g}"
        return f"{self.size} x {length} ISO 4762-8.8"


def drawn_order_text(screws: Sequence[ScrewOrder], each: bool = False) -> str:
    """Return how many of each screw these joints need, such as `18 M3 x 12 ISO 4762-8.8`.

    For all robots built, or for one of them where `each` is set.
    """
    totals: dict[str, int] = {}
    for one in screws:
        totals[one.name] = totals.get(one.name, 0) + one.count * (1 if each else one.pieces)
    return ", ".join(f"{total} {name}" for name, total in totals.items())


def drawn_general_tolerances(shop: Shop) -> str:
    """Return the general tolerances of all sheets: the shop's class of ISO 2768-1, K of ISO 2768-2."""
    return f"ISO 2768-{shop.general_tolerance}K"


@dataclass(frozen=True)
class Extra:
    """What mounting, making and inspection add to a sheet; empty fields leave the sheet's own words.

    `inspection` rows stand before those of the flank class; `making`, `mounting` and `cautions` are
    sentences; `clamping` replaces the sheet's own; `width`, `bore`, `tip` are the words of a dimension,
    `holes` are drawn instead of those of the part's screws; `stock`,
    `stock_kg` and `screws` are words, mass and screws for the order list.
    """

    inspection: list[Row] = field(default_factory=list)
    making: list[str] = field(default_factory=list)
    mounting: list[str] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)
    clamping: str = ""
    width: str = ""
    bore: str = ""
    tip: str = ""
    holes: Holes | None = None
    stock: str = ""
    stock_kg: float | None = None
    screws: list[ScrewOrder] = field(default_factory=list)


@dataclass(frozen=True)
class Part:
    """One ring part with everything its sheet needs; `study` without robots, `answer` without rings."""

    study: Study
    answer: Answer
    part: RingPart
    rings: list[JointRing]
    joints: list[Joint]
    shape: Shape
    extra: Extra

    @property
    def ring(self) -> JointRing:
        """The part as the first of its joints states it."""
        return self.rings[0]

    @property
    def ordered_material(self) -> str:
        """The material as it is ordered, with its treatment where one is stated or counted."""
        return shop_ordered_material(self.study.shop, self.joints, self.part.tip_diameter_mm)

    @property
    def by_disc(self) -> bool:
        """Whether a disc cutter makes the teeth: their root is then its own, not the corner of a rack."""
        return self.ring.profile_error_um is not None


def drawn_parts(study: Study, answer: Answer, extras: dict[str, Extra] | None = None) -> list[Part]:
    """Return every ring part of an answer; `extras` by the part's id."""
    joints = {}
    for robot in study.robots:
        for joint in robot.joints:
            joints[(robot.name, joint.name)] = joint
    # a part is sent to other processes: it must not carry everybody's rings with it
    rest = answer.model_copy(
        update={
            "rings": [],
            "second_rings": [],
            "ring_parts": [],
            "tool_points": [],
            "robot_rings": [],
            "electronics": [],
        }
    )
    shared = study.model_copy(update={"robots": []})
    found = []
    for part in answer.ring_parts:
        rings = [ring for ring in answer.every_ring if ring.ring_part == part.id]
        extra = (extras or {}).get(part.id, Extra())
        rack = study_rack(study.shop, part.module_mm)
        form = rack_tooth_profile(
            part.module_mm, part.teeth, addendum=rack.addendum, dedendum=rack.dedendum,
            fillet=rack.root_fillet, pressure_angle_deg=rack.pressure_angle_deg,
            shift=study.shop.profile_shift,
        )  # fmt: skip
        found.append(
            Part(
                study=shared,
                answer=rest,
                part=part,
                rings=rings,
                joints=[joints[(ring.robot, ring.joint)] for ring in rings],
                shape=Shape(form, part.bore_mm, part.face_width_mm, extra.holes or _holes(part)),
                extra=extra,
            )
        )
    return found


def _holes(part: RingPart) -> Holes | None:
    """Return the holes of the part's own screws."""
    screws = part.screws
    if screws is None:
        return None
    return Holes(screws.count, screws.hole_mm, screws.circle_mm, screws.size)


def drawn_size_text(size_mm: float, zone: str) -> str:
    """Return a size with its zone and deviations, such as `Ø126 H7 (+0.040/0)`; to 500 mm."""
    try:
        low, high = iso286_deviations_um(size_mm, zone)
    except ValueError:
        return f"Ø{drawn_length(size_mm)} (limits to be agreed)"
    return f"Ø{drawn_length(size_mm)} {zone} ({_deviation(high)}/{_deviation(low)})"


def drawn_smoothest_um(joints: Sequence[Joint]) -> float:
    """Return the roughness Rz in um that every seat of a part may count on: the least that is stated."""
    return min(joint.seat_roughness_um for joint in joints)


def drawn_bore_text(part: RingPart) -> str:
    """Return a part's bore with its zone and deviations, such as `Ø60 N7 (-0.009/-0.039)`."""
    zone = part.bore_zone + " " if part.bore_mm <= iso286.LARGEST_SIZE_MM else ""
    limits = f"{_deviation(part.bore_upper_um)}/{_deviation(part.bore_lower_um)}"
    return f"Ø{drawn_length(part.bore_mm)} {zone}({limits})"


def drawn_gear_rows(data: Part) -> list[Row]:
    """Return the gear data block: trade terms, ISO 21771 symbols."""
    ring, form = data.ring, data.shape.tooth
    rack = study_rack(data.study.shop, ring.module_mm)
    thickness = 2.0 * data.shape.pitch_mm * float(form.involute_half_angle(data.shape.pitch_mm))
    cutter = next((c for c in data.answer.cutters if c.id == data.part.cutter), None)
    tool = f"{cutter.id}, {cutter.kind}" if cutter else "wire erosion"
    return [
        Row("Number of teeth", "z", str(ring.teeth)),
        Row("Module", "m", drawn_length(ring.module_mm), _named_mm(data.part.pitch_name)),
        Row("Pressure angle", "α", f"{rack.pressure_angle_deg:g}°"),
        Row("Helix angle", "β", "0°", "spur"),
        Row("Basic rack", "", _rack_name(rack), _rack_factors(rack, data.by_disc)),
        Row(
            "Profile shift coefficient",
            "x",
            f"{ring.profile_shift:+g}" if ring.profile_shift else "0",
        ),
        Row("Pitch diameter", "d", drawn_length(ring.pitch_diameter_mm), "mm"),
        Row("Base diameter", "d_{b}", f"{2.0 * form.base_mm:.4f}", "mm"),
        Row("Tip diameter", "d_{a}", drawn_length(ring.tip_diameter_mm), "mm"),
        Row("Root diameter", "d_{f}", drawn_length(ring.root_diameter_mm), "mm"),
        Row(
            "Start of involute, diameter",
            "d_{Ff}",
            *(("", "by the cutter") if data.by_disc else (f"{2.0 * _form_radius(data):.4f}", "mm")),
        ),
        Row("Tooth depth", "h", drawn_length(ring.tooth_depth_mm), "mm"),
        Row("Tooth thickness at d, arc", "s", f"{thickness:.4f}", "mm, nominal"),
        Row("Rim, root to bore", "s_{R}", drawn_length(ring.rim_mm), "mm"),
        Row("Undercut", "", "yes" if form.undercut else "none"),
        Row("Flank tolerance class", "A", str(ring.flank_class), "ISO 1328-1:2013"),
        *(
            [Row("Profile", "", "by the cutter", "not by the class")]
            if ring.profile_error_um
            else []
        ),
        Row("Mating gear", "", "none", "read magnetically"),
        Row("Cutting tool", "", tool, "see note" if cutter else ""),
    ]


def _named_mm(pitch_name: str | None) -> str:
    return "mm" if pitch_name is None else f"mm, {pitch_name}"


def drawn_cutter_words(data: Part) -> str:
    """Return the cutter with its tooth range, or how else the teeth are made."""
    cutter = next((c for c in data.answer.cutters if c.id == data.part.cutter), None)
    if cutter is None:
        wire = _wire_words(data.study.shop)
        return f"Teeth by wire erosion{wire} after the profile of the DXF file, where there is one."
    module, ring = wording_of_module(drawn_length(cutter.module_mm), cutter.pitch_name), data.ring
    told = f"Cutter {cutter.id}: {cutter.kind}, module {module}, {cutter.tooth_range}."
    if not ring.profile_error_um:
        return told
    return (
        f"{told} Pitch, run-out and helix by class {ring.flank_class}; profile: what this cutter of a set "
        f"gives, up to {_up_to(ring.profile_error_um)} µm off."
    )


def _wire_words(shop: Shop) -> str:
    """Return the wire whose radius the roots were held against, if the shop states one."""
    if shop.wire_diameter_mm is None:
        return ""
    return f" (wire Ø{shop.wire_diameter_mm:g} mm or finer, spark gap {shop.spark_gap_mm:g} mm)"


def drawn_inspection_rows(data: Part) -> list[Row]:
    """Return the permitted deviations in um, rounded as ISO 1328-1:2013 rounds.

    They are those of the class; but the profile is what the form of the cutter gives, where that is
    another tooth count's.
    """
    ring = data.ring
    grade, d, m, b = ring.flank_class, ring.pitch_diameter_mm, ring.module_mm, ring.face_width_mm

    def row(name: str, symbol: str, um: float) -> Row:
        return Row(name, symbol, f"{iso1328_round_um(float(um)):g}", "µm")

    single = iso1328_single_pitch_um(d, m, grade, extrapolate=True)
    cumulative = iso1328_cumulative_pitch_um(d, m, grade, extrapolate=True)
    total = iso1328_profile_total_um(d, m, grade, extrapolate=True)
    form = iso1328_profile_form_um(d, m, grade, extrapolate=True)
    slope = iso1328_profile_slope_um(d, m, grade, extrapolate=True)
    profile = [
        row("Profile deviation, total", "F_{αT}", total),
        row("Profile form", "f_{fαT}", form),
        row("Profile slope", "f_{HαT}", slope),
    ]
    if ring.profile_error_um:
        profile = [
            Row("Profile, by the cutter", "F_{α}", _up_to(ring.profile_error_um), "µm, up to")
        ]
    helix = iso1328_helix_total_um(d, b, grade, extrapolate=True)
    runout = iso1328_runout_um(d, m, grade, extrapolate=True)
    return [
        row("Single pitch deviation", "f_{pT}", single),
        row("Cumulative pitch, total", "F_{pT}", cumulative),
        *profile,
        row("Helix deviation, total", "F_{βT}", helix),
        row("Run-out of the teeth", "F_{rT}", runout),
    ]


def sheet_body_rows(data: Part) -> list[Row]:
    """Return material, masses and inertia."""
    ring, stuff = data.ring, data.study.shop.ring_material
    across = drawn_transverse_kg_m2(ring)
    return [
        Row("Material", "", stuff.title, "ferromagnetic" if stuff.ferromagnetic else ""),
        _condition(data),
        Row("Density", "ρ", f"{stuff.density_kg_per_m3:g}", "kg/m³"),
        Row("Mass, finished", "", f"{1e3 * ring.finished_kg:.1f}", "g"),
        Row("Mass, turned blank", "", f"{1e3 * ring.blank_kg:.1f}", "g"),
        Row("Inertia about the axis", "J", drawn_figures(1e6 * ring.inertia_kg_m2), "kg mm²"),
        Row("Inertia across the axis", "", drawn_figures(1e6 * across), "kg mm²"),
        Row("Pieces for all robots built", "", str(data.part.quantity)),
    ]


def _condition(data: Part) -> Row:
    """Return the treatment to order: stated, or the one whose yield the strength limits took."""
    shop = data.study.shop
    if shop.material_treatment is not None:
        return Row("Condition", "", shop.material_treatment)
    counted = shop_counted_yield(shop, data.joints, data.part.tip_diameter_mm)
    if counted is None:
        return Row("Condition", "", "as delivered", "none asked")
    return Row("Condition", "", counted.treatment or "as delivered", "its yield counts")


def drawn_transverse_kg_m2(ring: JointRing) -> float:
    """Return the moment of inertia about a diameter through the middle of the ring, kg m^2.

    J/2 + m b^2/12: a prism whose section looks alike after a turn of less than half a circle has the
    same second moment about every diameter (textbook).
    """
    width = ring.face_width_mm / 1e3
    return ring.inertia_kg_m2 / 2.0 + ring.finished_kg * width**2 / 12.0


def drawn_tip_run_out_mm(data: Part) -> float:
    """Return the run-out of the tip circle that the air gap was checked with: that of the class."""
    ring = data.ring
    um = iso1328_runout_um(
        ring.pitch_diameter_mm, ring.module_mm, ring.flank_class, extrapolate=True
    )
    return iso1328_round_um(float(um)) / 1e3


def drawn_face_run_out_mm(data: Part) -> float:
    """Return the run-out of the faces: half of the lean of the flank line that the budget allows.

    Rounded down to 0.01 mm and between 0.01 and 0.1 mm (general class H of ISO 2768-2, from memory).
    """
    lean = data.study.shop.flank_line_mrad / 2.0 * data.ring.tip_diameter_mm / 1e3
    return min(max(math.floor(lean * 100.0) / 100.0, 0.01), 0.1)


def drawn_length(value: float) -> str:
    """Return a length with as many digits as it needs, at most four decimals."""
    return f"{value:.4f}".rstrip("0").rstrip(".")


def drawn_figures(value: float) -> str:
    """Return a number in four figures, never with an exponent."""
    whole = max(0, 3 - math.floor(math.log10(value))) if value > 0.0 else 0
    text = f"{float(f'{value:.4g}'):.{whole}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _deviation(um: float) -> str:
    return "0" if um == 0.0 else f"{um / 1e3:+.3f}"


def _form_radius(data: Part) -> float:
    form = data.shape.tooth
    return form.base_mm * math.sqrt(1.0 + form.roll_start**2)


def _up_to(um: float) -> str:
    """Return whole micrometres, rounded up."""
    return f"{math.ceil(um - 1e-9)}"


def _rack_name(rack: Rack) -> str:
    return rack.title.replace("ISO 53 type", "ISO 53:1998,")


def _rack_factors(rack: Rack, by_disc: bool) -> str:
    corner = "" if by_disc else f", ρ_{{f}} {rack.root_fillet:g}"
    return f"h_{{a}} {rack.addendum:g}, h_{{f}} {rack.dedendum:g}{corner}"
