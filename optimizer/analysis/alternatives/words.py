"""What was tried and what came of it, in words."""

from __future__ import annotations

from ringset.analysis.alternatives.models import AddedTotals, Ground
from ringset.wording import count as counted

#: What is less is not worth a word.
LEAST_GRAMS, LEAST_MONEY = 5e-4, 5e-3


def alternatives_tried_words(ground: Ground) -> str:
    """Say what was tried."""
    ring = f"{ground.teeth} teeth, bore {ground.bore_mm:g} mm"
    rim = f"{ground.rim_mm:.3g} mm (bore {ground.bore_mm:g} mm)"
    heads = counted(ground.heads, "head")
    return {
        "larger": f"larger ({ring})",
        "largest": f"as many teeth as fit ({ring})",
        "smaller": f"smaller ({ring})",
        "thinner": f"a rim of {rim}",
        "thinnest": f"the thinnest rim, {rim}",
        "thicker": f"a rim of {rim}",
        "fewer_heads": f"{heads} (bore {ground.bore_mm:g} mm)",
        "more_heads": f"{heads} (bore {ground.bore_mm:g} mm)",
        "own_part": f"a ring part of its own ({ring})",
        "other_part": f"{ground.ring_part} ({ring}), {heads}",
    }[ground.kind]


def alternatives_outcome_words(ground: Ground) -> str:
    """Say what it would break, cost or save."""
    if ground.breaks:
        first, more = ground.breaks[0], len(ground.breaks) - 1
        whose = "/".join(name for name in (first.robot, first.joint) if name)
        text = f"{first.limit} {first.value:.4g} {first.unit}".rstrip()
        text += f", allowed {first.allowed:.4g}"
        rest = f", and {more} more" if more else ""
        return (f"{whose}: " if whose else "") + text + rest
    parts = _differences(ground.adds)
    if ground.outcome == "as good":
        return "as good by every wish" + (f" ({', '.join(parts)})" if parts else "")
    return ("better by the wishes: " if ground.outcome == "better" else "") + ", ".join(parts)


def _differences(adds: AddedTotals) -> list[str]:
    """Return what is added and saved, as people read it."""
    parts = [
        f"{counted(abs(more), noun)} {'more' if more > 0 else 'fewer'}"
        for more, noun in (
            (adds.cutters, "cutter"), (adds.ring_parts, "ring part"), (adds.heads, "head"),
        )
        if more
    ]  # fmt: skip
    grams = abs(1e3 * adds.material_kg)
    if grams >= LEAST_GRAMS:
        mass = f"{grams / 1e3:.3g} kg" if grams >= 1e3 else f"{grams:.3g} g"
        parts.append(f"{mass} {'more' if adds.material_kg > 0 else 'less'} material")
    if adds.money is not None and abs(adds.money) >= LEAST_MONEY:
        parts.append(f"{abs(adds.money):.2f} {'more' if adds.money > 0 else 'less'} money")
    return parts
