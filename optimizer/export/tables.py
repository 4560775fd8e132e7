"""Order list, cutter list and ring table as CSV and as one workbook, unrounded, units in the heads."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any

from ringset.drawing.dial_words import drawn_dial_words
from ringset.drawing.part import Part, drawn_order_text
from ringset.export.ring_table import export_ring_frame
from ringset.schema.answer import Answer
from ringset.schema.study import Study

Line = Mapping[str, Any]


def export_order_lines(parts: Sequence[Part]) -> list[Line]:
    """Return one line per ring part: how many, what, and from which blank."""
    return [
        {
            "ring_part": data.part.id,
            "pieces": data.part.quantity,
            "module_mm": data.part.module_mm,
            "pitch_name": data.part.pitch_name or "",
            "teeth": data.part.teeth,
            "profile_shift": data.ring.profile_shift,
            "flank_class_iso1328_2013": data.ring.flank_class,
            "tip_diameter_mm": _plain(data.part.tip_diameter_mm),
            "bore_mm": _plain(data.part.bore_mm),
            "bore_zone": data.part.bore_zone,
            "face_width_mm": data.part.face_width_mm,
            "material": data.ordered_material,
            "cutter": data.part.cutter or "wire erosion",
            "screws": drawn_order_text(data.extra.screws),
            "stock": data.extra.stock,
            "stock_kg": data.extra.stock_kg,
            "blank_kg": data.ring.blank_kg,
            "blanks_kg": data.ring.blank_kg * data.part.quantity,
            "finished_kg": data.ring.finished_kg,
            "used_on": ", ".join(data.part.used_on),
            "in_production": "yes" if data.part.in_production else "no",
        }
        for data in parts
    ]


def export_screw_lines(parts: Sequence[Part]) -> list[Line]:
    """Return one line per joint that is fastened by screws: which, how many, how long, and how they sit."""
    return [
        {
            "robot": one.robot,
            "joint": one.joint,
            "ring_part": data.part.id,
            "screw": f"{one.size} ISO 4762-8.8",
            "length_mm": one.length_mm,
            "a_ring": one.count,
            "rings": one.pieces,
            "screws": one.count * one.pieces,
            "clamped_mm": data.part.face_width_mm,
            "engaged_in_hub_min_mm": one.engaged_mm,
            "thread_in_hub_min_mm": one.thread_mm,
            "hub_material": one.hub,
            "heads": "on the face away from the hub",
        }
        for data in parts
        for one in data.extra.screws
    ]


def _plain(mm: float) -> float:
    """Return a size without the dust of binary arithmetic: 65.6 instead of 65.60000000000001."""
    return float(f"{mm:.12g}")


def export_cutter_lines(answer: Answer) -> list[Line]:
    """Return one line per cutter to have."""
    return [
        {
            "cutter": cutter.id,
            "kind": cutter.kind,
            "module_mm": cutter.module_mm,
            "pitch_name": cutter.pitch_name or "",
            "tooth_range": cutter.tooth_range,
            "cuts": ", ".join(cutter.ring_parts),
            "owned": "yes" if cutter.owned else "no",
        }
        for cutter in answer.cutters
    ]


def export_note_lines(parts: Sequence[Part]) -> list[Line]:
    """Return one line per note on making and mounting, also those that find no room on a sheet."""
    return [
        {"ring_part": data.part.id, "on": subject, "note": text}
        for data in parts
        for subject, texts in (
            ("making", data.extra.making),
            ("mounting", [*drawn_dial_words(data), *data.extra.mounting]),
        )
        for text in texts
    ]


def export_joint_lines(study: Study, answer: Answer) -> list[Line]:
    """Return one line per joint, the ring table."""
    return export_ring_frame(study, answer).to_dict("records")  # type: ignore[return-value]


def export_csv_text(lines: Sequence[Line]) -> str:
    """Return lines as CSV with a head; no lines give an empty text."""
    if not lines:
        return ""
    text = io.StringIO()
    writer = csv.DictWriter(text, list(lines[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(lines)
    return text.getvalue()


def export_workbook(tables: Mapping[str, Sequence[Line]]) -> bytes:
    """Return the tables as sheets of one XLSX workbook, heads bold and fixed, columns as wide as needed."""
    from openpyxl import Workbook
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    book = Workbook()
    book.remove(book.active)
    for name, lines in tables.items():
        page = book.create_sheet(name)
        heads = list(lines[0]) if lines else ["none"]
        page.append(heads)
        for line in lines:
            page.append(list(line.values()))
        for cell in page[1]:
            cell.font = Font(bold=True)
        page.freeze_panes = "B2"
        for index, head in enumerate(heads, start=1):
            longest = max([len(head), *(len(str(line[head])) for line in lines)])
            page.column_dimensions[get_column_letter(index)].width = min(longest, 40) + 2
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()
