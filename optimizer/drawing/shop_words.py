"""Shop data of a ring part as rows and sentences for its sheet."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from ringset.drawing.blocks import Row
from ringset.drawing.part import Extra, ScrewOrder, drawn_figures, drawn_length
from ringset.manufacturing.inspection import InspectionData, Limits
from ringset.manufacturing.mounting import MountingData, ScrewData, SeatData
from ringset.manufacturing.part_data import MakingData, RingShopData, ShopCheck, shop_data
from ringset.schema.answer import Answer, FaceScrews
from ringset.schema.study import Study
from ringset.standards.screws import standard_screw

#: Below this force of a jaw nobody clamps on the rim. Assumed.
RIM_CLAMP_N = 20.0


def sheet_extras(study: Study, answer: Answer) -> dict[str, Extra]:
    """Return what the shop data add to the sheet of every ring part, by the part's id."""
    return {data.part.id: _extra(study, data) for data in shop_data(study, answer)}


def _extra(study: Study, data: RingShopData) -> Extra:
    accepted, screws = data.inspection, data.part.screws
    return Extra(
        inspection=_rows(accepted),
        making=[
            *_making(data.making),
            *_holes(screws),
            *(_sentence(note) for note in data.notes if _for_shop(note, data)),
        ],
        mounting=[*_not_kept(data.checks), *_mounting(data.mounting)],
        cautions=[*data.cautions],
        clamping=_clamping(study.shop.clamp_jaws, data.making),
        width=_size(accepted.width, ""),
        bore=_size(accepted.bore, "Ø"),
        tip=_size(accepted.tip, "Ø"),
        stock="" if data.making.blank is None else data.making.blank.text,
        stock_kg=data.making.bought_kg,
        screws=list(_screw_orders(study, data)),
    )


def _screw_orders(study: Study, data: RingShopData) -> Iterator[ScrewOrder]:
    """Yield the screws of every joint of a part that is fastened by screws."""
    built = {robot.name: robot.count for robot in study.robots}
    for mount in data.mounting:
        held = mount.screws
        if mount.fastening == "screws" and held is not None:
            yield ScrewOrder(
                robot=mount.robot,
                joint=mount.joint,
                size=held.size,
                count=held.count,
                pieces=built[mount.robot],
                length_mm=held.length_mm,
                engaged_mm=held.engaged_mm,
                thread_mm=held.thread_mm,
                hub=held.hub,
            )


def _rows(data: InspectionData) -> list[Row]:
    """Return span, pins and tooth thickness with their limits."""
    name, symbol = f"Span over {data.span_teeth} teeth", f"W_{{{data.span_teeth}}}"
    rows = [Row(name, symbol, f"{data.span_mm:.4f}", _below(data.span))]
    if data.pin_mm is not None and data.over_pins_mm is not None:
        name = f"Over two pins of {drawn_length(data.pin_mm)} mm"
        rows.append(Row(name, "M_{dK}", f"{data.over_pins_mm:.4f}", _below(data.over_pins)))
    if data.thickness_tolerance_um is not None:
        limit = f"0/-{data.thickness_tolerance_um / 1e3:.3f} mm"
        rows.append(Row("Tooth thickness tolerance", "T_{sn}", "", limit))
    return rows


def _below(limits: Limits | None) -> str:
    if limits is None:
        return "mm, for information"
    return f"0/-{limits.upper_mm - limits.lower_mm:.3f} mm"


def _size(limits: Limits, sign: str) -> str:
    low, high = limits.lower_mm - limits.nominal_mm, limits.upper_mm - limits.nominal_mm
    name = f"{sign}{drawn_length(limits.nominal_mm)}"
    if abs(low + high) < 1e-9:
        return f"{name} ±{drawn_length(high)}"
    zone = limits.source.removesuffix(", assumed")
    zone = f" {zone.removeprefix('ISO 286 ')}" if zone.startswith("ISO 286 ") else ""
    return f"{name}{zone} ({_deviation(high)}/{_deviation(low)})"


def _digits(value: float) -> str:
    """Return a number cut to two digits, so that no limit is rounded up."""
    step = 10.0 ** (math.floor(math.log10(value)) - 1) if value > 0.0 else 1.0
    return f"{math.floor(value / step + 1e-9) * step:.6g}"


def _deviation(mm: float) -> str:
    return "0" if abs(mm) < 5e-7 else f"{mm:+.3f}"


def _clamping(jaws: int, made: MakingData) -> str:
    most = made.jaw_force_n[jaws]
    others = ", ".join(
        f"{_digits(force)} N with {count}"
        for count, force in made.jaw_force_n.items()
        if count != jaws
    )
    where = "face, or on the rim with" if most >= RIM_CLAMP_N else "face; the rim takes"
    return (
        f"Clamp on the {where} at most {_digits(most)} N a jaw with {jaws} jaws ({others}): lobes then stay "
        f"within {made.lobe_budget_um:.1f} µm."
    )


def _making(made: MakingData) -> Iterator[str]:
    if made.blank is not None and made.bought_kg is not None and made.kept_share is not None:
        yield (
            f"Blank: {made.blank.text}; {1e3 * made.bought_kg:.0f} g bought with its saw cut, "
            f"{100.0 * made.kept_share:.0f} % of it stay in the ring."
        )
    else:
        yield f"Blank: {made.least_blank}."
    yield (
        f"The free rim rings with two lobes at {_digits(made.rings_at_hz)} Hz: keep the rate of cutting "
        "edges away from it."
    )


def _holes(screws: FaceScrews | None) -> Iterator[str]:
    if screws is not None:
        # fixed fastener: hub thread and ring hole share the clearance
        place = (screws.hole_mm - standard_screw(screws.size).thread_mm) / 2.0
        yield (
            f"Holes for {screws.size}: through, evenly spaced, a tooth midway of two; each axis within "
            f"Ø{place:.6g} of its place to A; edges broken on both faces."
        )


def _for_shop(note: str, data: RingShopData) -> bool:
    """Whether a note speaks of the part itself; those of a joint stand with its mounting."""
    return not any(note.startswith(f"{m.robot}/{m.joint}: ") for m in data.mounting)


def _sentence(note: str) -> str:
    return f"{note[:1].upper()}{note[1:].rstrip('.')}."


def _not_kept(checks: Iterable[ShopCheck]) -> Iterator[str]:
    """Tell of checks that the study did not ask for and that fail; the others the answer keeps."""
    for check in checks:
        if not check.kept and "safety" in check.name:
            yield (
                f"NOT AS IT SHOULD BE: {check.name} is {drawn_figures(check.value)}, less than "
                f"{drawn_figures(check.allowed)}: take another fit, hub or fastening."
            )


def _mounting(mounts: Iterable[MountingData]) -> list[str]:
    """Return one sentence after another, each once, with the joints it is for."""
    said: dict[str, list[str]] = {}
    for mount in mounts:
        for text in _mount(mount):
            said.setdefault(text, []).append(mount.joint)
    return [f"{', '.join(joints)}: {text}." for text, joints in said.items()]


def _mount(mount: MountingData) -> Iterator[str]:
    if mount.seat is not None:
        yield _seat(mount.seat)
    if mount.fastening == "screws" and mount.screws is not None:
        yield _screws(mount.screws)
    if mount.slip_safety is not None:
        asked = drawn_figures(mount.torque_asked_nm or 0.0)
        yield f"safety against slip {drawn_figures(mount.slip_safety)} at {asked} N m asked"
    if mount.stress_share and mount.seat is not None and mount.seat.interference_um[1] > 0.0:
        safety = drawn_figures(1.0 / mount.stress_share)
        yield f"safety against yield {safety} of ring and hub, at the tightest"
    if mount.yielding_through_rpm is not None:
        yield f"the rim yields through at {_digits(mount.yielding_through_rpm)} rpm"
    for note in mount.notes:
        # what screws would need matters only where screws hold the ring
        if mount.fastening == "screws" or not note.startswith("no screws fit"):
            yield note


def _seat(seat: SeatData) -> str:
    loose, tight = seat.interference_um
    if tight <= 0.0:
        return f"seat {seat.fit}, clearance {_um(-tight)} to {_um(-loose)} µm"
    told = [
        f"seat {seat.fit}, {_between(loose, tight)}, pressure up to {seat.pressure_mpa[1]:.1f} MPa, hoop "
        f"stress up to {seat.ring_hoop_mpa[1]:.0f} MPa in the ring and {-seat.hub_hoop_mpa[1]:.0f} MPa "
        f"(pressed) in the hub, tip radius grows {round(seat.tip_growth_um[0])} to "
        f"{round(seat.tip_growth_um[1])} µm",
        f"press on with {seat.press_force_n / 1e3:.2f} kN"
        + (f" or heat the ring to {seat.joining_c:.0f} °C" if seat.joining_c else ""),
    ]
    if seat.worst_slip_torque_nm > 0.0:
        told.append(
            f"slips at {seat.worst_slip_torque_nm:.3g} N m (loosest, worst temperature, full speed)"
        )
    if seat.temperature_c is not None:
        ends = [
            f"{word} {celsius:.0f} °C"
            for word, celsius in zip(("from", "to"), seat.temperature_c, strict=True)
            if math.isfinite(celsius)
        ]
        told += ["keeps grip and yield " + " ".join(ends)] if ends else []
    if seat.contact_loss_rpm is not None:
        told.append(f"lifts off at {seat.contact_loss_rpm:.0f} rpm")
    return "; ".join(told)


def _between(loose: float, tight: float) -> str:
    if loose < 0.0:
        return f"from {_um(-loose)} µm clearance to {_um(tight)} µm interference"
    return f"interference {_um(loose)} to {_um(tight)} µm"


def _um(value: float) -> str:
    """Return micrometres of a fit, halves as they are (JS has such), and no minus before nothing."""
    return f"{round(value, 3) + 0.0:g}"


def _screws(screws: ScrewData) -> str:
    by = "by its material: common practice, no source" if screws.engagement_known else "assumed"
    length = "longer than any listed" if screws.length_mm is None else f"x {screws.length_mm:g}"
    return (
        f"{screws.count} screws {screws.size} {length} (ISO 4762, 8.8) through the face, heads on the face "
        f"away from the hub, thread in the hub at least {screws.thread_mm:g} mm deep (as far as they come; "
        f"{screws.engaged_mm:g} mm hold, {by}), preload "
        f"{screws.preload_n / 1e3:.2f} kN each, tightened with about "
        f"{screws.tightening_nm:.2g} N m (dry, k = 0.2), carry {screws.torque_nm:.1f} N m by "
        "friction"
    )
