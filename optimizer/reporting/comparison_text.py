"""For people: a comparison as readable tables and as CSV. Only here are its numbers rounded."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from ringset.analysis.comparison.models import (
    Basis,
    Change,
    ComparedAnswer,
    ComparedCutter,
    ComparedJoint,
    ComparedPart,
    ComparedRing,
    ComparedTotal,
    Comparison,
)
from ringset.analysis.comparison.words import RING_SUMS_IN_WORDS, compared_total_differs
from ringset.reporting.comparison_rows import RING_ROWS, TARGET_ROWS, Row
from ringset.schema.answer import WITH_RINGS
from ringset.wording import (
    BASES,
    WIDTH,
    wording_bullets,
    wording_of_module,
    wording_table,
    wording_wrapped,
)

#: Longest head of a column and longest label of a row; longer names are cut in the middle.
NAME_WIDTH, LABEL_WIDTH = 24, 32
#: Inputs that differ are listed up to this many.
INPUTS_SHOWN = 30

_TOTALS = {
    "cutters": "cutters",
    "ring_parts": "ring parts",
    "heads": "heads",
    "material_kg": "material (blanks) kg",
    "cost": "cost (own currency)",
    "finished_kg": "finished kg",
    "cutters_owned": "cutters owned",
    "parts_in_production": "parts in production",
}
_LARGEST = {
    "largest_error_arcsec": "largest error",
    "largest_repeatability_arcsec": "largest repeatability",
}
_SOURCES = {
    "study": "study {}, solved now and judged",
    "answer": "answer as it was given, not judged here (its study {})",
}
_ABSENT = "no such joint"
Columns = list[list[str]]


def comparison_text(comparison: Comparison) -> str:
    """Return the whole comparison as text for a terminal."""
    heads = _heads([answer.name for answer in comparison.answers])
    blocks = [_compared(comparison, heads)]
    blocks += [wording_bullets("Not like for like", comparison.notes)] if comparison.notes else []
    blocks += [_inputs(comparison, heads)] if comparison.inputs else []
    blocks.append("Totals\n" + _total_tables(comparison, heads))
    reasons = [f"{a.name}: {text}" for a in comparison.answers for text in a.reasons]
    blocks += [wording_bullets("Reasons", reasons)] if reasons else []
    if comparison.reference is not None:
        first = heads[comparison.reference]
        blocks.append(f"Rings (* differs from {first})\n" + _ring_tables(comparison, heads))
        blocks.append(_exchanged(comparison))
        blocks.append(_summaries(comparison))
    text = "\n\n".join(filter(None, blocks)) + "\n"
    # what an answer calls itself is not checked: it must not steer a terminal
    return "".join(c if c.isprintable() or c == "\n" else "?" for c in text)


def _heads(names: Sequence[str]) -> list[str]:
    """Return heads of columns: names cut in the middle where too long, numbered if that clashes."""
    heads = [cut_middle_text(name) for name in names]
    return [
        head
        if heads.count(head) == 1
        else f"{place + 1}:{cut_middle_text(names[place], NAME_WIDTH - 3)}"
        for place, head in enumerate(heads)
    ]


def cut_middle_text(name: str, width: int = NAME_WIDTH) -> str:
    """Return a name of at most `width` characters, cut in the middle: versions differ at the end."""
    if len(name) <= width:
        return name
    end = (width - 2) // 2
    return f"{name[: width - 2 - end]}..{name[-end:]}"


def _compared(comparison: Comparison, heads: Sequence[str]) -> str:
    lines = ["Compared"]
    for answer, head in zip(comparison.answers, heads, strict=True):
        name = answer.name if head == answer.name else f"{head} = {answer.name}"
        source = _SOURCES[answer.source].format(answer.study_sha256[:16])
        lines.append(wording_wrapped(f"{name}: {source}", "  "))
        lines += [wording_wrapped(answer.title, "    ")] if answer.title else []
    return "\n".join(lines)


def _inputs(comparison: Comparison, heads: Sequence[str]) -> str:
    """Return the inputs that differ between the known studies, as far as a page holds them."""
    shown = comparison.inputs[:INPUTS_SHOWN]
    columns = [
        [head, *(cut_middle_text(line.values[place] or "unknown") for line in shown)]
        for place, head in enumerate(heads)
    ]
    labels = ["", *(cut_middle_text(line.path, LABEL_WIDTH) for line in shown)]
    text = "Inputs that differ\n" + side_by_side_text(
        [labels, columns[0]], [[c] for c in columns[1:]]
    )
    more = len(comparison.inputs) - len(shown)
    return f"{text}\n  and {more} more (--json lists all)" if more else text


def side_by_side_text(
    fixed: Columns, groups: Sequence[Columns], empty: Collection[str] = ()
) -> str:
    """Return tables no wider than a page if they can be: each repeats the fixed columns.

    A column is a list of cells, its head first; the columns of one group stay together. Rows with
    nothing but `empty` cells beside their label are left out.
    """
    tables, here = [], list(fixed)
    for group in groups:
        if len(here) > len(fixed) and _width([*here, *group]) > WIDTH:
            tables.append(here)
            here = list(fixed)
        here += group
    tables.append(here)
    return "\n\n".join(_table_of(columns, empty) for columns in tables)


def _width(columns: Columns) -> int:
    return sum(2 + max(map(len, column)) for column in columns)


def _table_of(columns: Columns, empty: Collection[str]) -> str:
    heads, *rows = zip(*columns, strict=True)
    return wording_table(heads, [row for row in rows if not set(row[1:]) <= set(empty)])


def _total_tables(comparison: Comparison, heads: Sequence[str]) -> str:
    labels = ["", "status"]
    cells: list[Columns] = [[[h], [""]] for h in heads]
    for column, answer in zip(cells, comparison.answers, strict=True):
        column[0].append(answer.status)
        column[1].append("")
    for total in comparison.totals:
        for label, values, changes in _total_rows(comparison, total):
            labels.append(label)
            for column, value, change in zip(cells, values, changes, strict=True):
                column[0].append(value)
                column[1].append(change)
    place = comparison.reference or 0
    for column in cells:
        column[1][0] = "change"
    fixed = [labels, cells[place][0]]
    groups = [c if any(c[1][1:]) else c[:1] for i, c in enumerate(cells) if i != place]
    return side_by_side_text(fixed, groups)


def _total_rows(
    comparison: Comparison, total: ComparedTotal
) -> Iterator[tuple[str, list[str], list[str]]]:
    """Yield the rows of one total: label, values, changes."""
    largest = _LARGEST.get(total.name)
    digits = ".1f" if largest else ".4g"
    values = ["-" if v is None else f"{v:{digits}}" for v in total.values]
    changes = [
        ""
        if d is None
        else signed_text(float(d), digits)
        if compared_total_differs(total, i)
        else "same"
        for i, d in enumerate(total.differences)
    ]
    basis = f" ({BASES[total.basis]})" if total.basis and len(comparison.bases) > 1 else ""
    none = ["" for _ in values]
    if total.name in RING_SUMS_IN_WORDS:
        words, unit = RING_SUMS_IN_WORDS[total.name]
        yield f"{words} {unit}, {cut_middle_text(total.robot or '')}", values, changes
    elif total.robot is not None:
        scatter = total.name == "tool_point_repeatability_um"
        name = f"tool point of {cut_middle_text(total.robot)}"
        yield f"{'  its repeatability' if scatter else name} um{basis}", values, changes
        if total.basis == comparison.bases[-1]:
            targets = total.targets_um or []
            shown = [
                "-" if v is None else "none" if t is None else f"{t:g}"
                for v, t in zip(total.values, targets, strict=True)
            ]
            if not scatter or any(targets):
                yield f"  its {'repeatability ' if scatter else ''}target um", shown, none
    elif largest:
        yield f"{largest} arcsec{basis}", values, changes
        yield "  at joint", [cut_middle_text(j) if j else "-" for j in total.joints or []], none
    else:
        yield _TOTALS[total.name], values, changes


def signed_text(difference: float, digits: str) -> str:
    """Return a difference with its sign, never rounded away to nothing."""
    text = f"{difference:+{digits}}" if digits.endswith("f") else f"{difference:+.3g}"
    return text if float(text) else f"{difference:+.1g}"


def _ring_tables(comparison: Comparison, heads: Sequence[str]) -> str:
    labels, cells = [""], [[h] for h in heads]
    names = [cut_middle_text(joint.label, LABEL_WIDTH) for joint in comparison.joints]
    width = max(map(len, names))
    for name, joint in zip(names, comparison.joints, strict=True):
        rows = list(_ring_rows(comparison, joint))
        for number, (label, values) in enumerate(rows):
            labels.append(f"{name if number == 0 else '':{width}}  {label}")
            for column, value in zip(cells, values, strict=True):
                column.append(value)
    place = comparison.reference or 0
    for number, column in enumerate(cells):
        if number != place and any(cell.endswith("*") for cell in column):
            column[:] = [c if c.endswith("*") else f"{c} " for c in column]
    others = [
        [column]
        for number, column in enumerate(cells)
        if number != place and _holds_rings(comparison.answers[number])
    ]
    return side_by_side_text([labels, cells[place]], others, {_ABSENT, f"{_ABSENT} ", "-", "- "})


def _ring_rows(comparison: Comparison, joint: ComparedJoint) -> Iterator[tuple[str, list[str]]]:
    """Yield the rows of one joint: label and a cell for each answer, marked where it differs."""
    several = len(comparison.bases) > 1
    errors = [
        _angle_row(words, field, basis, several)
        for words, field in (("error", "{}_arcsec"), ("repeatability", "repeatability_{}_arcsec"))
        for basis in comparison.bases
    ]
    rings = [ring for ring in joint.rings if ring is not None]
    told = {name for ring in rings for name in ring.differs}
    if len({round(ring.tooth_depth_mm / ring.module_mm, 9) for ring in rings}) == 1:
        told.discard("tooth_depth_mm")  # it follows the module
    rows = [
        row for row in (*RING_ROWS, *errors, *TARGET_ROWS) if row.always or told & set(row.fields)
    ]
    for number, row in enumerate(rows):
        yield (
            row.label,
            [
                _cell(row, ring) if ring is not None else _ABSENT if number == 0 else "-"
                for ring in joint.rings
            ],
        )


def _angle_row(words: str, fields: str, basis: Basis, named: bool) -> Row:
    field = fields.format(basis)
    label = f"{words} arcsec ({BASES[basis]})" if named else f"{words} arcsec"
    return Row(label, (field,), lambda ring: f"{getattr(ring, field):.1f}")


def _cell(row: Row, ring: ComparedRing) -> str:
    return row.shown(ring) + ("*" if set(row.fields) & set(ring.differs) else "")


def _holds_rings(answer: ComparedAnswer) -> bool:
    return answer.status in WITH_RINGS


def _exchanged(comparison: Comparison) -> str:
    """Return the ring parts and cutters that each answer adds and drops."""
    if comparison.reference is None or not comparison.changes:
        return ""
    first = comparison.answers[comparison.reference].name
    lines = [f"Ring parts and cutters against {first} (mm)"]
    for change in comparison.changes:
        seldom = _same_at_a_glance(change)
        texts = [
            *(f"added {_part(part, seldom)}" for part in change.parts_added),
            *(f"added {_cutter(cutter, seldom)}" for cutter in change.cutters_added),
            *(f"dropped {_part(part, seldom)}" for part in change.parts_dropped),
            *(f"dropped {_cutter(cutter, seldom)}" for cutter in change.cutters_dropped),
        ]
        lines.append(f"  {change.name}:{'' if texts else ' the same'}")
        lines += [wording_wrapped(text, "    ") for text in texts]
    return "\n".join(lines)


def _same_at_a_glance(change: Change) -> bool:
    """Say whether added and dropped parts differ in what is seldom another: rack, shift, material."""

    def kinds(parts: list[ComparedPart]) -> set[tuple[float | str, ...]]:
        return {
            (
                round(p.tooth_depth_mm / p.module_mm, 9), round(p.profile_shift, 9), p.flank_class,
                p.material, p.holes,
            )
            for p in parts
        }  # fmt: skip

    added, dropped = kinds(change.parts_added), kinds(change.parts_dropped)
    return bool(added and dropped and added != dropped)


def _part(part: ComparedPart, seldom: bool) -> str:
    """Return a ring part in words; what seldom differs only where asked for."""
    p = part
    bore = f"bore {p.bore_mm:g} ({p.bore_lower_um:+g}/{p.bore_upper_um:+g} um)"
    sizes = f"module {p.module_mm:g}, {p.teeth} teeth, {bore}, rim {p.rim_mm:.3f}"
    if seldom:
        sizes += f", tooth depth {p.tooth_depth_mm:.4g}, profile shift {p.profile_shift:g}"
        sizes += f", flank class {p.flank_class}, {p.material}, screw holes {p.holes}"
    return f"ring part {p.id}: {sizes}, width {p.face_width_mm:g}; for {', '.join(p.used_on)}"


def _cutter(cutter: ComparedCutter, seldom: bool) -> str:
    depth = f", tooth depth {cutter.tooth_depth_mm:.4g}" if seldom else ""
    module = wording_of_module(f"{cutter.module_mm:g}", cutter.pitch_name)
    return f"cutter {cutter.id}: {cutter.kind}, module {module}, {cutter.tooth_range}{depth}"


def _summaries(comparison: Comparison) -> str:
    """Return one sentence for each answer but the reference."""
    told = {change.name: change.summary for change in comparison.changes}
    lines = ["In short"]
    for place, answer in enumerate(comparison.answers):
        if place != comparison.reference:
            text = told.get(answer.name, f"{answer.status}, no rings to compare")
            lines.append(wording_wrapped(f"{answer.name}: {text}.", "  "))
    return "\n".join(lines)


def comparison_csv(comparison: Comparison) -> str:
    """Return one line per joint and answer, unrounded, units in the column names."""
    import pandas as pd

    lines: list[dict[str, object]] = []
    for joint in comparison.joints:
        for place, (answer, ring) in enumerate(zip(comparison.answers, joint.rings, strict=True)):
            line: dict[str, object] = {
                "robot": joint.robot,
                "joint": joint.joint,
                "answer": answer.name,
                "reference": "yes" if place == comparison.reference else "no",
                "status": answer.status,
                "basis": answer.basis,
                "has_ring": "no" if ring is None else "yes",
            }
            if ring is not None:
                line |= ring.model_dump()
                line["head_angles_deg"] = " ".join(f"{angle:g}" for angle in ring.head_angles_deg)
                line["differs"] = " ".join(ring.differs)
            lines.append(line)
    return pd.DataFrame(lines, dtype=object).to_csv(index=False, lineterminator="\n")
