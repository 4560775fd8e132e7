"""All files of an answer in one folder, written whole or not at all."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable, Collection, Iterable
from importlib.util import find_spec
from pathlib import Path

from optimizer.answer import Answer
from optimizer.drawing.frame import Release
from optimizer.drawing.part import Extra, Part, parts
from optimizer.drawing.pdf import pdf
from optimizer.drawing.ring_sheet import ring_sheet
from optimizer.drawing.robot_sheet import JOINTS_A_SHEET, robot_sheets
from optimizer.drawing.sheet import Sheet
from optimizer.drawing.svg import svg
from optimizer.handover.inertial import inertial_xml
from optimizer.handover.lists import (
    Line,
    csv_text,
    cutter_lines,
    joint_lines,
    order_lines,
    workbook,
)
from optimizer.handover.profile_dxf import profile_dxf
from optimizer.handover.solid_step import write_step
from optimizer.physics.profile import CHORD_ERROR_MM
from optimizer.study import Robot, Study

#: Kinds of files: the package each needs and the extra that brings it.
KINDS: dict[str, tuple[str | None, str]] = {
    "rings": ("reportlab", "sheets"),
    "robots": ("reportlab", "sheets"),
    "dxf": ("ezdxf", "sheets"),
    "tables": ("openpyxl", "sheets"),
    "inertial": (None, ""),
    "step": ("OCP", "cad"),
}

#: Writes one file at the path it is given.
Maker = Callable[[Path], None]


class Withheld(Exception):
    """Nothing was written; the text says why."""


def missing(kinds: Iterable[str]) -> dict[str, str]:
    """Return the kinds that cannot be made here, each with the extra to install."""
    needs = {kind: KINDS[kind] for kind in kinds}
    return {k: extra for k, (package, extra) in needs.items() if package and not find_spec(package)}


def makers(
    study: Study, answer: Answer, kinds: Collection[str], *, release: Release | None = None,
    chord_error_mm: float = CHORD_ERROR_MM, extras: dict[str, Extra] | None = None,
) -> dict[str, Maker]:  # fmt: skip
    """Return the files of an answer by name, each with what writes it; nothing is made yet."""
    release = release or Release()
    known = parts(study, answer, extras)
    stems = _stems([data.part.id for data in known])
    found: dict[str, Maker] = {}
    for data, stem in zip(known, stems, strict=True):
        if "rings" in kinds:
            found |= _sheet_files(stem, _once(lambda d=data: [ring_sheet(d, release)]), 1)  # type: ignore[misc]
        if "dxf" in kinds:
            found[f"{stem}.dxf"] = _dxf(data, chord_error_mm)
        if "step" in kinds:
            found[f"{stem}.step"] = _step(data)
    for robot, stem in zip(study.robots, _stems([r.name for r in study.robots]), strict=True):
        if "robots" in kinds:
            pages = -(-len(robot.joints) // JOINTS_A_SHEET)
            found |= _sheet_files(
                f"robot-{stem}",
                _once(lambda r=robot: robot_sheets(r, answer, known, release)),  # type: ignore[misc]
                pages,
            )
        if "inertial" in kinds:
            found[f"robot-{stem}.inertial.xml"] = _inertial(robot, answer)
    if "tables" in kinds:
        found |= _tables(study, answer, known)
    return found


def hand_over(files: dict[str, Maker], out: Path, *, replace: bool = False) -> None:
    """Make every file and put it into the folder `out`; on any failure nothing is left behind.

    The files are made in a folder beside it and then moved. Raises `Withheld` where one of them
    exists and `replace` is not set, or where the place cannot be written.
    """
    out = out.resolve()
    if out.exists() and not out.is_dir():
        raise Withheld(f"{out}: given a file; allowed: a folder")
    standing = [name for name in files if (out / name).exists()]
    if standing and not replace:
        raise Withheld(
            f"{out}: given a folder that holds {_some(standing)}; allowed: a new one, or --replace"
        )
    draft = out.with_name(f".{out.name}.{os.getpid()}.part")
    try:
        draft.mkdir()
        for name, make in files.items():
            make(draft / name)
        if out.exists():
            _move(list(files), draft, out)
        else:
            draft.replace(out)
    except OSError as error:
        raise Withheld(f"{out}: given a place that cannot be written ({error.strerror})") from None
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _move(names: list[str], draft: Path, out: Path) -> None:
    """Move files into a folder that exists; if one cannot be moved, put everything back."""
    kept = draft / "kept"
    kept.mkdir()
    done: list[str] = []
    try:
        for name in names:
            done.append(name)
            if (out / name).exists():
                (out / name).replace(kept / name)
            (draft / name).replace(out / name)
    except OSError:
        for name in done:
            if (kept / name).exists():
                (kept / name).replace(out / name)
            elif not (draft / name).exists():
                (out / name).unlink(missing_ok=True)
        raise


def _sheet_files(stem: str, sheets: Callable[[], list[Sheet]], pages: int) -> dict[str, Maker]:
    def page(index: int) -> Maker:
        return lambda path: _write(path, svg(sheets()[index]))

    names = [f"{stem}.svg"] if pages == 1 else [f"{stem}-{i}.svg" for i in range(1, pages + 1)]
    found = {name: page(index) for index, name in enumerate(names)}
    found[f"{stem}.pdf"] = lambda path: _discard(path.write_bytes(pdf(sheets())))
    return found


def _once(make: Callable[[], list[Sheet]]) -> Callable[[], list[Sheet]]:
    """Return the same sheets to every caller, made when first asked for."""
    made: list[list[Sheet]] = []

    def sheets() -> list[Sheet]:
        if not made:
            made.append(make())
        return made[0]

    return sheets


def _dxf(data: Part, chord_error_mm: float) -> Maker:
    return lambda path: _write(path, profile_dxf(data, chord_error_mm))


def _step(data: Part) -> Maker:
    return lambda path: write_step(data, path)


def _inertial(robot: Robot, answer: Answer) -> Maker:
    return lambda path: _write(path, inertial_xml(robot, answer))


def _tables(study: Study, answer: Answer, known: list[Part]) -> dict[str, Maker]:
    tables = {
        "order": order_lines(known),
        "cutters": cutter_lines(answer),
        "joints": joint_lines(study, answer),
    }
    found = {f"{name}.csv": _csv(lines) for name, lines in tables.items() if lines}
    found["tables.xlsx"] = lambda path: _discard(path.write_bytes(workbook(tables)))
    return found


def _csv(lines: list[Line]) -> Maker:
    return lambda path: _write(path, csv_text(lines))


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8")


def _discard(_: object) -> None:
    return None


def _stems(names: list[str]) -> list[str]:
    """Return file names for names of any kind, no two alike even where capitals do not count."""
    taken: set[str] = set()
    stems = []
    for name in names:
        plain = re.sub(r"[^A-Za-z0-9_-]+", "_", name)[:60] or "_"
        stem, number = plain, 2
        while stem.lower() in taken:
            stem, number = f"{plain}_{number}", number + 1
        taken.add(stem.lower())
        stems.append(stem)
    return stems


def _some(names: list[str]) -> str:
    shown = ", ".join(names[:3])
    return shown if len(names) <= 3 else f"{shown} and {len(names) - 3} more of the files to write"
