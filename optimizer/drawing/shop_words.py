"""Shop data of a ring part as rows and sentences for its sheet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from optimizer.answer import Answer
from optimizer.drawing.blocks import Row
from optimizer.drawing.part import Extra, number
from optimizer.drawing.views import Holes
from optimizer.shop_data import InspectionData, Limits, MakingData, RingShopData, shop_data
from optimizer.shop_mounting import MountingData, ScrewData, SeatData
from optimizer.study import Study


def extras(study: Study, answer: Answer) -> dict[str, Extra]:
    """Return what the shop data add to the sheet of every ring part, by the part's id."""
    return {data.part.id: _extra(study, data) for data in shop_data(study, answer)}


def _extra(study: Study, data: RingShopData) -> Extra:
    accepted, screwed = data.inspection, [m for m in data.mounting if m.fastening == "screws"]
    screws = screwed[0].screws if screwed else None
    fitted = accepted.bore.source.startswith("ISO 286")
    return Extra(
        inspection=_rows(accepted),
        making=[
            *_making(data.making),
            *(_sentence(note) for note in data.notes if _for_shop(note, data)),
        ],
        mounting=_mounting(data.mounting),
        cautions=[*data.cautions],
        clamping=_clamping(study.shop.clamp_jaws, data.making),
        width=_size(accepted.width, ""),
        # without a fit the sheet keeps its own hole zone: a bore must not come out below nominal
        bore=_size(accepted.bore, "Ø") if fitted else "",
        tip=_size(accepted.tip, "Ø"),
        general=accepted.general_tolerance.replace("ISO 2768-1 ", "ISO 2768-") + "K",
        holes=None
        if screws is None
        else Holes(screws.count, screws.hole_mm, screws.circle_mm, screws.size),
    )


def _rows(data: InspectionData) -> list[Row]:
    """Return span, pins and tooth thickness with their limits."""
    name, symbol = f"Span over {data.span_teeth} teeth", f"W_{{{data.span_teeth}}}"
    rows = [Row(name, symbol, f"{data.span_mm:.4f}", _below(data.span))]
    if data.pin_mm is not None and data.over_pins_mm is not None:
        name = f"Over two pins of {number(data.pin_mm)} mm"
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
    name = f"{sign}{number(limits.nominal_mm)}"
    if abs(low + high) < 1e-9:
        return f"{name} ±{number(high)}"
    zone = limits.source.removeprefix("ISO 286 ")
    return f"{name} {zone} ({_deviation(high)}/{_deviation(low)})"


def _deviation(mm: float) -> str:
    return "0" if abs(mm) < 5e-7 else f"{mm:+.3f}"


def _clamping(jaws: int, made: MakingData) -> str:
    least = {count: force for count, force in made.jaw_force_n.items() if count != jaws}
    others = ", ".join(f"{force:.0f} N with {count}" for count, force in least.items())
    return (
        f"Clamp on the face, or on the rim with at most {made.jaw_force_n[jaws]:.0f} N a jaw with "
        f"{jaws} jaws ({others}): lobes then stay within {made.lobe_budget_um:.1f} µm."
    )


def _making(made: MakingData) -> Iterator[str]:
    if made.blank is not None and made.bought_kg is not None:
        yield f"Blank: {made.blank.text}, {1e3 * made.bought_kg:.0f} g bought."
    if made.deeper_depth_mm is not None:
        yield f"The cutter may cut {made.deeper_depth_mm:g} mm deep: measure the first root circle."


def _for_shop(note: str, data: RingShopData) -> bool:
    """Whether a note speaks of the part itself; those of a joint stand with its mounting."""
    return not any(note.startswith(f"{m.robot}/{m.joint}: ") for m in data.mounting)


def _sentence(note: str) -> str:
    return f"{note[:1].upper()}{note[1:].rstrip('.')}."


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
        yield f"safety against slip {mount.slip_safety:.1f}"
    for note in mount.notes:
        # what screws would need matters only where screws hold the ring
        if mount.fastening == "screws" or not note.startswith("no screws fit"):
            yield note


def _seat(seat: SeatData) -> str:
    loose, tight = seat.interference_um
    if tight <= 0.0:
        return f"seat {seat.fit}, clearance {-tight:.0f} to {-loose:.0f} µm"
    text = (
        f"seat {seat.fit}, interference {loose:.0f} to {tight:.0f} µm, pressure up to "
        f"{seat.pressure_mpa[1]:.1f} MPa, hoop stress of the ring up to {seat.ring_hoop_mpa[1]:.0f} MPa, tip "
        f"radius grows {seat.tip_growth_um[0]:.0f} to {seat.tip_growth_um[1]:.0f} µm; press on with "
        f"{seat.press_force_n / 1e3:.2f} kN"
    )
    return text + (f" or heat the ring to {seat.joining_c:.0f} °C" if seat.joining_c else "")


def _screws(screws: ScrewData) -> str:
    return (
        f"{screws.count} screws {screws.size} (ISO 4762, 8.8) through the face, preload "
        f"{screws.preload_n / 1e3:.2f} kN each, carry {screws.torque_nm:.1f} N m by friction"
    )
