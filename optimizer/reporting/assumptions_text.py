"""For people: which assumptions decide an answer, and the band between hopeful and careful ones."""

from __future__ import annotations

import json

from pydantic import JsonValue

from ringset.analysis.assumptions.models import (
    AssumedEffect,
    Assumptions,
    AtEnd,
    Band,
    BandInput,
    Figures,
)
from ringset.schema.answer import SETTLED, Answer
from ringset.schema.field_docs import field_unit
from ringset.wording import count, wording_bullets, wording_table, wording_wrapped

TITLE = "What decides this answer"
#: How many inputs the first screen names, and how many of those that were not solved in the time.
SHOWN, OPEN_SHOWN = 5, 10
#: Changes of material and margin that are told: what is less is told as nothing.
_LEAST_KG, _LEAST_COST, _LEAST_MARGIN = 5e-7, 5e-3, 5e-5


def decides_text(found: Assumptions, most: int = SHOWN) -> str:
    """Return the inputs that decide an answer as plain sentences, at most so many."""
    solved = [one for one in found.inputs if one.solved]
    texts = [
        assumption_effect_text(one, found.answer) for one in solved if _tells(one, found.answer)
    ]
    texts += [
        assumption_rated_text(one) for one in found.inputs if not one.solved and _breaking(one)
    ]
    total = count(len(found.inputs), "input")
    if texts:
        title = (
            f"{TITLE} ({min(most, len(texts))} of {total} assumed; ringset assumptions STUDY: all)"
        )
        lines = [wording_wrapped(text, "  - ") for text in texts[:most]]
        return "\n".join([title, *lines, *_open(found)])
    text = f"Of {total} assumed {len(solved)} were solved at both ends; none of them changes the answer."
    if not solved and found.answer.cutters is None:
        text = f"By rating, none of {total} assumed, alone at an end, gives it an answer; none was solved."
    elif not solved and found.open:
        text = f"None of {total} assumed could be solved at both ends in the time."
    elif not solved:
        text = f"None of {total} assumed changes the answer alone, as far as rating tells."
    return "\n".join([TITLE, wording_wrapped(text, "  "), *_open(found)])


def _open(found: Assumptions) -> list[str]:
    if not found.open:
        return []
    names = found.open[:OPEN_SHOWN]
    more = f" and {len(found.open) - OPEN_SHOWN} more" if len(found.open) > OPEN_SHOWN else ""
    return [wording_wrapped(f"Not solved in the time: {', '.join(names)}{more}", "  ")]


def _breaking(one: AssumedEffect) -> list[AtEnd]:
    """Return the ends of an input at which the rings of the answer, rated as they are, break a limit."""
    rated = [end for end in (one.at_low, one.at_high) if end.rings_margin is not None]
    return [
        end
        for end in rated
        if end.refused is None and end.rings_keep is False and end.value != one.given
    ]


def assumption_rated_text(one: AssumedEffect) -> str:
    """Return at which end of an input that was not solved the rings of the answer break a limit."""
    ends = " and at ".join(assumption_value_text(one.path, end.value) for end in _breaking(one))
    return f"{_is(one)}; at {ends} these rings break a limit (rated, not solved anew)"


def _is(one: AssumedEffect) -> str:
    verb = "has a range of the study's own" if one.stated else "is assumed"
    return f"{one.path} {assumption_value_text(one.path, one.given)} {verb}"


def _tells(one: AssumedEffect, base: Figures) -> bool:
    return any(_says_something(end, base) for end in (one.at_low, one.at_high))


def _says_something(end: AtEnd, base: Figures) -> bool:
    if end.figures is None:
        return False
    return end.figures.status != base.status or bool(_changes(end)) or bool(_margin(end, base))


def assumption_effect_text(one: AssumedEffect, base: Figures) -> str:
    """Return what an input is and what each end of its range would do, in one sentence."""
    ends = [
        f"{assumption_value_text(one.path, end.value)} {_would(end, base)}"
        for end in (one.at_low, one.at_high)
        if end.value != one.given
    ]
    return f"{_is(one)}; {', '.join(ends)}"


def assumption_value_text(path: str, value: JsonValue) -> str:
    """Return a value with the unit of its field."""
    unit = field_unit(path.rpartition(".")[2])
    if isinstance(value, list):
        return ", ".join(assumption_value_text("", one) for one in value)
    shown = (
        f"{value:g}"
        if isinstance(value, float)
        else str(value if isinstance(value, (int, str)) else json.dumps(value))
    )
    return f"{shown} {unit}".rstrip()


def _would(end: AtEnd, base: Figures) -> str:
    figures = end.figures
    if end.refused is not None:
        return f"cannot be stated beside the rest ({end.refused})"
    if figures is None:
        return "was not solved"
    if figures.status == "undecided":
        return "was not decided in the time"
    if figures.status == "impossible":
        return (
            "changes nothing: it stays impossible"
            if base.status == "impossible"
            else "makes it impossible"
        )
    if base.cutters is None:
        return (
            f"makes it possible ({count(figures.cutters or 0, 'cutter')}, "
            f"{count(figures.ring_parts or 0, 'ring part')}, {count(figures.heads or 0, 'head')}, "
            f"{figures.material_kg or 0.0:.3g} kg)"
        )
    changes = _changes(end)
    if changes:
        return f"would {' and '.join(changes)}" + (
            "" if figures.status in SETTLED else " (not proven)"
        )
    return _margin(end, base) or "would change nothing"


def _changes(end: AtEnd) -> list[str]:
    """Return what an end saves and what it takes, in words."""
    saved, taken = list[str](), list[str]()
    for name, noun in (("cutters", "cutter"), ("ring_parts", "ring part"), ("heads", "head")):
        more = round(end.change.get(name, 0.0))
        if more:
            (taken if more > 0 else saved).append(count(abs(more), noun))
    kg, money = end.change.get("material_kg", 0.0), end.change.get("cost", 0.0)
    if abs(kg) > _LEAST_KG:
        (taken if kg > 0 else saved).append(_mass(abs(kg)))
    found = [f"save {' and '.join(saved)}"] if saved else []
    found += [f"take {' and '.join(taken)} more"] if taken else []
    if abs(money) > _LEAST_COST:
        found.append(f"cost {abs(money):.2f} {'more' if money > 0 else 'less'}")
    return found


def _mass(kg: float) -> str:
    return f"{kg:.2g} kg" if kg >= 0.01 else f"{1e3 * kg:.2g} g"


def _margin(end: AtEnd, base: Figures) -> str:
    """Return what an end does to the margin where it changes no wish; nothing if nothing."""
    if end.figures is None or end.figures.margin is None or base.margin is None:
        return ""
    if _changes(end) or abs(end.figures.margin - base.margin) < _LEAST_MARGIN:
        return ""
    left, before = _told_apart(100.0 * end.figures.margin, 100.0 * base.margin)
    return f"would leave {left} % of the nearest target, not {before} %"


def _told_apart(one: float, other: float) -> tuple[str, str]:
    """Return two numbers that differ with two digits, or with as many as tell them apart."""
    for digits in range(2, 9):
        pair = f"{one:.{digits}g}", f"{other:.{digits}g}"
        if pair[0] != pair[1]:
            break
    return pair


# -- all of them --------------------------------------------------------------------------------------------


def assumptions_text(found: Assumptions) -> str:
    """Return all assumed inputs as tables: those that were solved, and those that were only rated."""
    solved = [one for one in found.inputs if one.solved]
    rated = [one for one in found.inputs if not one.solved]
    wishes = ", then ".join(wish.replace("_", " ") for wish in found.order)
    intro = (
        f"{count(len(found.inputs), 'input')} of this study are assumed. All were rated at both ends of "
        f"their ranges; the {len(solved)} strongest were solved there, and are ranked by what they "
        f"change: whether there is an answer, then {wishes}, then the margin to the nearest target."
    )
    blocks = [
        found.title or "Assumptions",
        wording_wrapped(intro, ""),
        decides_text(found, len(solved)),
    ]
    if solved:
        blocks.append("Solved at both ends\n" + _solved_table(solved, found.answer))
    if rated:
        blocks.append(
            "Only rated: do the rings of the answer keep all limits?\n" + _rated_table(rated)
        )
    blocks.append(wording_bullets("Ranges", [_range(one) for one in found.inputs]))
    return "\n\n".join(blocks) + "\n"


def _solved_table(solved: list[AssumedEffect], base: Figures) -> str:
    heads = ["input", "value", "status", "cutters", "ring parts", "heads", "material kg"]
    heads += [*(["cost"] if base.cost is not None else []), "margin %"]
    rows = [["as stated", "", *_cells(base, base)]]
    for one in solved:
        for name, end in ((one.path, one.at_low), ("", one.at_high)):
            cells = ["refused" if end.refused else "", *[""] * (len(heads) - 3)]
            if end.figures is not None:
                cells = _cells(end.figures, base)
            rows.append([name, assumption_value_text(one.path, end.value), *cells])
    return wording_table(heads, rows)


def _cells(figures: Figures, base: Figures) -> list[str]:
    amounts = [figures.material_kg, *([figures.cost] if base.cost is not None else [])]
    return [
        figures.status,
        *(
            "" if n is None else str(n)
            for n in (figures.cutters, figures.ring_parts, figures.heads)
        ),
        *("" if amount is None else f"{amount:.4g}" for amount in amounts),
        "" if figures.margin is None else f"{100.0 * figures.margin:.1f}",
    ]


def _rated_table(rated: list[AssumedEffect]) -> str:
    rows = [
        [
            one.path,
            assumption_value_text(one.path, one.given), assumption_value_text(one.path, one.at_low.value),
            _kept(one.at_low), assumption_value_text(one.path, one.at_high.value), _kept(one.at_high),
        ]
        for one in rated
    ]  # fmt: skip
    return wording_table(["input", "given", "low", "rings", "high", "rings"], rows)


def _kept(end: AtEnd) -> str:
    if end.refused is not None:
        return "refused"
    if end.rings_margin is None:
        return "no answer"
    left = round(100.0 * end.rings_margin, 1) + 0.0  # no minus before nothing
    return f"{'keep' if end.rings_keep else 'break'} ({left:.1f} %)"


def _range(one: AssumedEffect) -> str:
    low, high = (assumption_value_text(one.path, end.value) for end in (one.at_low, one.at_high))
    return f"{one.path}: {low} to {high}. {one.because}"


# -- the band -----------------------------------------------------------------------------------------------


def band_text(band: Band) -> str:
    """Return the three answers of a band side by side, what stays, and what makes care impossible."""
    answers = {"hopeful": band.hopeful, "as stated": band.stated, "careful": band.careful}
    heads = [
        "all assumed inputs",
        "status",
        "cutters",
        "ring parts",
        "heads",
        "material kg",
        "largest error",
    ]
    rows = [[name, *_totals(answer)] for name, answer in answers.items()]
    note = "Hopeful ends lower errors or leave room, careful ones the opposite; hopeful rings may be heavier."
    blocks = [
        "Between hope and care (arcsec)\n" + wording_table(heads, rows),
        wording_wrapped(note, ""),
    ]
    if len(band.same.compared) > 1:
        blocks.append(wording_bullets(f"The same in {_all(band)}", _same(band)))
    if band.careful.status == "impossible" and band.causes:
        blocks.append(_causes(band))
    if band.left_out:
        blocks.append(wording_bullets("Left out", band.left_out))
    moved = [one for one in band.inputs if one.careful != one.hopeful]
    blocks.append(wording_bullets("From hopeful to careful, the weightiest first", [
        f"{one.path}: {assumption_value_text(one.path, one.hopeful)} to "
        f"{assumption_value_text(one.path, one.careful)}"
        for one in sorted(moved, key=_weightiest)
    ]))  # fmt: skip
    return "\n\n".join(blocks) + "\n"


def _weightiest(one: BandInput) -> tuple[float, str]:
    return -one.weight, one.path


def _totals(answer: Answer) -> list[str]:
    totals = answer.totals
    if totals is None:
        return [answer.status, "", "", "", "", ""]
    largest = max(ring.error_arcsec for ring in answer.rings)
    counts = [str(n) for n in (totals.cutters, totals.ring_parts, totals.heads)]
    return [answer.status, *counts, f"{totals.material_kg:.4g}", f"{largest:.1f}"]


def _all(band: Band) -> str:
    names = ["as stated" if name == "stated" else name for name in band.same.compared]
    return "all three" if len(names) == 3 else " and ".join(names)


def _same(band: Band) -> list[str]:
    same = band.same
    lines = [
        ("cutters", "; ".join(same.cutters)),
        ("ring parts", "; ".join(same.ring_parts)),
        ("rings", "; ".join(f"{joint}: {ring}" for joint, ring in same.sizes.items())),
        ("heads", ", ".join(f"{joint} {number}" for joint, number in same.heads.items())),
    ]
    return [f"{name}: {text or 'none'}" for name, text in lines]


def _causes(band: Band) -> str:
    text = (
        f"Careful is impossible. With {count(len(band.causes), 'input')} as stated and all others careful "
        f"there is an answer, and with any one of them careful too there is none: {', '.join(band.causes)}."
    )
    if band.causes_open:
        text += " The time ended before all had been tried: fewer may do."
    elif band.causes_alone:
        text += f" Alone make it impossible: {', '.join(band.causes_alone)}."
    return wording_wrapped(text, "")
