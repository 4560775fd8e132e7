"""Sheets and tables of rings without a fit: the circle of the dial, and its full reading, not the offset."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest

from ringset.drawing.dial_words import drawn_dial_words, drawn_seat_text
from ringset.drawing.frame import Release
from ringset.drawing.part import Part, drawn_parts
from ringset.drawing.ring_sheet import ring_sheet
from ringset.drawing.shop_words import sheet_extras
from ringset.export.tables import export_joint_lines, export_note_lines
from ringset.manufacturing.part_data import shop_data
from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.drawing.test_sheets import sound, texts
from tests.support.narrow import present
from tests.support.places import SCENARIOS
from tests.support.studies import Json


def table(turn: Json, tilt: Json) -> tuple[Study, Answer]:
    """Return the turning table, whose two joints share one ring part, with these seats."""
    data = json.loads((SCENARIOS / "two_joint_table.json").read_text())
    for joint, seat in zip(data["robots"][0]["joints"], (turn, tilt), strict=True):
        joint |= seat
    study = load_study(json.dumps(data))
    return study, solve(study)


def sheet_words(study: Study, answer: Answer) -> tuple[Part, str]:
    """Return the only part of the table and all words of its sheet, which must be sound."""
    (part,) = drawn_parts(study, answer, sheet_extras(study, answer))
    sheet = ring_sheet(part, Release())
    sound(sheet)
    assert not [text for text in texts(sheet) if "…" in text]
    return part, " ".join(texts(sheet))


def test_a_ring_set_by_its_bore_has_the_full_reading_and_the_bore_on_its_sheet() -> None:
    """15 um off centre by default: the dial reads 30, on the bore, which is what the budget counts."""
    _, words = sheet_words(*table({}, {}))
    assert words.count("bore, TIR 30 µm") == 2
    assert "No fit is stated: set the ring with a dial indicator on bore A" in words
    assert "(TIR, twice the radial offset) is at most 30 µm" in words
    assert "on the tip circle" not in words
    assert "15 µm" not in words


def test_a_ring_set_by_its_tips_is_told_of_its_anvil() -> None:
    study, answer = table(*[{"set_by": "tips", "seat_tir_um": 24}] * 2)
    part, words = sheet_words(study, answer)
    assert words.count("tips, TIR 24 µm") == 2
    assert "with a dial indicator on its tips" in words
    assert "is at most 24 µm" in words
    wide, sinks = re.search(r"at least ([\d.]+) mm wide .* sinks ([\d.]+) µm", words).groups()  # type: ignore[union-attr]
    # independently, off the drawn outline: the right end of one tip, the left end of the next
    points = np.asarray(part.shape.tooth.outline())
    radius = np.hypot(*points.T)
    ends = points[radius > radius.max() - 1e-9]
    across = np.hypot(*(ends[:, np.newaxis] - ends[np.newaxis]).reshape(-1, 2).T)
    pitch = 2.0 * radius.max() * np.sin(np.pi / part.part.teeth)
    land = across[across < 0.5 * pitch].max()
    gap = pitch - land  # chords so short are as good as arcs
    assert gap < float(wide) == pytest.approx(pitch, abs=0.1)
    assert float(sinks) == pytest.approx(1e3 * gap**2 / 8.0 / radius.max(), abs=0.15)
    (data,) = shop_data(study, answer)
    assert data.inspection.tip_runout_um == 23.0  # F_r of class 6, module 1, 101 teeth, rounded
    assert any(
        "set by its tips: measure their run-out against the bore, 23 um" in n for n in data.notes
    )
    dials = [present(mount.dial) for mount in data.mounting]
    assert [(dial.on, dial.full_reading_um) for dial in dials] == [("tips", 24.0)] * 2


def test_seats_that_differ_on_one_part_are_told_apart() -> None:
    study, answer = table({"seat_fit": "H7/g6"}, {"seat_offset_um": 6})
    part, words = sheet_words(study, answer)
    assert "H7/g6" in words
    assert "bore, TIR 12 µm" in words
    assert "Seats named bore: set the ring" in words
    told = drawn_dial_words(part)
    assert len(told) == 1
    assert "at most 12 µm" in told[0]
    study, answer = table({"set_by": "tips"}, {"seat_offset_um": 6})
    told = drawn_dial_words(drawn_parts(study, answer)[0])
    assert [words.partition(":")[0] for words in told] == ["Seats named bore", "Seats named tips"]
    study, answer = table({"seat_tir_um": 20}, {"seat_offset_um": 6})
    (told_once,) = drawn_dial_words(drawn_parts(study, answer)[0])
    assert "at most what the seat of its joint says" in told_once
    assert {drawn_seat_text(joint) for joint in study.robots[0].joints} == {
        "bore, TIR 20 µm", "bore, TIR 12 µm",
    }  # fmt: skip


def test_fits_leave_nothing_to_a_dial() -> None:
    study, answer = table(*[{"seat_fit": "H7/h6"}] * 2)
    part, words = sheet_words(study, answer)
    assert drawn_dial_words(part) == []
    assert "dial" not in words
    assert all(mount.dial is None for data in shop_data(study, answer) for mount in data.mounting)


def test_tables_name_circle_and_full_reading() -> None:
    study, answer = table({"set_by": "tips", "seat_offset_um": 9}, {"seat_fit": "H7/h6"})
    turn, tilt = export_joint_lines(study, answer)
    names = ("seat_fit", "set_by", "dial_full_reading_um")
    assert [turn[name] for name in names] == ["", "tips", 18.0]
    assert [tilt[name] for name in names] == ["H7/h6", "", ""]
    assert turn["tips_off_bore_standard_arcsec"] > 0.0 == tilt["tips_off_bore_standard_arcsec"]
    notes = export_note_lines(drawn_parts(study, answer, sheet_extras(study, answer)))
    assert any("dial indicator on its tips" in note["note"] for note in notes)
