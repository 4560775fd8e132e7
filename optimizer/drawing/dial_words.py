"""What the sheet of a ring part says of rings that a dial indicator sets."""

from __future__ import annotations

import math

from ringset.drawing.part import Part
from ringset.manufacturing.dial_setting import DialSetting, shop_dial_setting
from ringset.schema.joint import Joint


def drawn_seat_text(joint: Joint) -> str:
    """Return the seat of a joint in a few letters: its fit, or the dial's circle and full reading."""
    return joint.seat_fit or f"{joint.dial_on}, TIR {joint.dial_reading_um:g} µm"


def drawn_dial_words(data: Part) -> list[str]:
    """Return one note for each circle on which a dial sets rings of the part; none where fits seat all."""
    found: dict[str, list[DialSetting]] = {}
    for joint, ring in zip(data.joints, data.rings, strict=True):
        setting = shop_dial_setting(data.study.shop, joint, ring)
        if setting is not None:
            found.setdefault(setting.on, []).append(setting)
    alone = len(found) == 1 and all(joint.seat_fit is None for joint in data.joints)
    return [
        f"{'No fit is stated' if alone else f'Seats named {circle}'}: {_words(found[circle])}"
        for circle in sorted(found)
    ]


def _words(settings: list[DialSetting]) -> str:
    """Return how to set rings by one circle; their readings may differ from joint to joint."""
    first, readings = settings[0], {setting.full_reading_um for setting in settings}
    most = (
        f"{first.full_reading_um:g} µm" if len(readings) == 1 else "what the seat of its joint says"
    )
    reading = f"its full reading over a turn (TIR, twice the radial offset) is at most {most}."
    if first.anvil_mm is None or first.sinks_um is None:
        circle = "on bore A, or on a band turned in one setting with it"
        return f"set the ring with a dial indicator {circle}; {reading}"
    wide = math.ceil(10.0 * first.anvil_mm) / 10.0
    return (
        f"set the ring with a dial indicator on its tips; {reading} Tips are toothed, and a point drops "
        f"between them: take a flat anvil at least {wide:g} mm wide (one pitch). It still sinks "
        f"{first.sinks_um:.1f} µm between two tips, so compare the highest points of the teeth only."
    )
