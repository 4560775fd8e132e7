"""All files of an answer in one folder, written whole or not at all."""

from __future__ import annotations

import os
import re
import shutil
import signal
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from functools import partial
from importlib.util import find_spec
from multiprocessing import get_context
from pathlib import Path

from ringset.drawing.drawable_names import DRAWN, undrawable_names
from ringset.drawing.frame import Release
from ringset.drawing.part import Extra, Part, drawn_parts
from ringset.drawing.pdf import sheets_as_pdf
from ringset.drawing.ring_sheet import ring_sheet
from ringset.drawing.robot_sheet import JOINTS_A_SHEET, robot_sheets
from ringset.drawing.svg import sheet_as_svg
from ringset.errors import StudyError
from ringset.export.dxf import profile_dxf
from ringset.export.inertia import export_inertial_xml
from ringset.export.step import write_step
from ringset.export.tables import (
    Line,
    export_csv_text,
    export_cutter_lines,
    export_joint_lines,
    export_note_lines,
    export_order_lines,
    export_screw_lines,
    export_workbook,
)
from ringset.physics.tooth_profile import CHORD_ERROR_MM
from ringset.schema.answer import Answer
from ringset.schema.study import Robot, Study

#: Kinds of files: the package each needs and the extra that brings it.
KINDS: dict[str, tuple[str | None, str]] = {
    "rings": ("reportlab", "sheets"),
    "robots": ("reportlab", "sheets"),
    "dxf": ("ezdxf", "sheets"),
    "tables": ("openpyxl", "sheets"),
    "inertial": (None, ""),
    "step": ("OCP", "cad"),
}

#: From so many jobs on, several processes share them; starting one costs about a second.
SHARED_FROM, PROCESSES_MAX = 40, 4


@dataclass(frozen=True)
class Job:
    """Files that are made together, and what writes them into a folder (can be sent to a process)."""

    names: tuple[str, ...]
    write: Callable[[Path], None]


class Withheld(Exception):
    """Nothing was written; the text says why."""


def missing_export_kinds(kinds: Iterable[str]) -> dict[str, str]:
    """Return the kinds that cannot be made here, each with the extra to install."""
    needs = {kind: KINDS[kind] for kind in kinds}
    return {k: extra for k, (package, extra) in needs.items() if package and not find_spec(package)}


def export_jobs(
    study: Study, answer: Answer, kinds: Collection[str], *, release: Release | None = None,
    chord_error_mm: float = CHORD_ERROR_MM, extras: dict[str, Extra] | None = None,
    wanted: Collection[str] | None = None,
) -> list[Job]:  # fmt: skip
    """Return what there is to make for the wanted `kinds` of `KINDS`; nothing is made yet.

    `wanted` names the ring parts to have sheets, DXF and STEP of; all where None. Raises StudyError for
    names that cannot be drawn, where a kind of `DRAWN` is wanted.
    """
    release = release or Release()
    if DRAWN & set(kinds) and (faults := undrawable_names(study, release)):
        raise StudyError(faults)
    known = drawn_parts(study, answer, extras)
    found: list[Job] = []
    for data, stem in zip(known, _part_stems([data.part.id for data in known]), strict=True):
        if wanted is not None and data.part.id not in wanted:
            continue
        if "rings" in kinds:
            found.append(Job((f"{stem}.svg", f"{stem}.pdf"), partial(_ring, stem, data, release)))
        if "dxf" in kinds:
            found.append(Job((f"{stem}.dxf",), partial(_dxf, stem, data, chord_error_mm)))
        if "step" in kinds:
            found.append(Job((f"{stem}.step",), partial(_step, stem, data)))
    for robot, stem in zip(
        study.robots, export_file_stems([r.name for r in study.robots]), strict=True
    ):
        if "robots" in kinds:
            names = _pages(f"robot-{stem}", -(-len(robot.joints) // JOINTS_A_SHEET))
            document = f"robot-{stem}.pdf"
            write = partial(_robot, names, document, robot, answer, known, release)
            found.append(Job((*names, document), write))
        if "inertial" in kinds:
            name = f"robot-{stem}.inertial.xml"
            found.append(Job((name,), partial(_inertial, name, robot, answer)))
    if "tables" in kinds:
        found.append(_tables(study, answer, known))
    return found


def write_export_folder(work: Sequence[Job], out: Path, *, replace: bool = False) -> list[str]:
    """Make every file, put it into the folder `out` and return the names; on failure leave nothing.

    The files are made in a folder beside it and then moved. Raises `Withheld` where one of them
    exists and `replace` is not set, or where the place cannot be written.
    """
    out = out.resolve()
    names = [name for job in work for name in job.names]
    if out.exists() and not out.is_dir():
        raise Withheld(f"{out}: given a file; allowed: a folder")
    standing = [name for name in names if (out / name).exists()]
    if standing and not replace:
        text = (
            f"{out}: given a folder that holds {_some(standing)}; allowed: a new one, or --replace"
        )
        raise Withheld(text)
    draft = out.with_name(f".{out.name}.{os.getpid()}.part")
    try:
        draft.mkdir()
        _make(work, draft)
        if out.exists():
            _move(names, draft, out)
        else:
            draft.replace(out)
    except OSError as error:
        raise Withheld(f"{out}: given a place that cannot be written ({error.strerror})") from None
    finally:
        shutil.rmtree(draft, ignore_errors=True)
    return names


def _make(work: Sequence[Job], folder: Path) -> None:
    """Do every job, in several processes where that pays."""
    processes = min(os.cpu_count() or 1, PROCESSES_MAX)
    if processes == 1 or len(work) < SHARED_FROM:
        for job in work:
            job.write(folder)
        return
    with get_context("spawn").Pool(processes, _leave_interrupts) as pool:
        for _ in pool.imap_unordered(partial(_do, folder), work):
            pass


def _leave_interrupts() -> None:
    """Leave an interrupt to the process that shares out the work."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _do(folder: Path, job: Job) -> None:
    job.write(folder)


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
    except BaseException:  # an interrupt too
        for name in done:
            if (kept / name).exists():
                (kept / name).replace(out / name)
            elif not (draft / name).exists():
                (out / name).unlink(missing_ok=True)
        raise


def _ring(stem: str, data: Part, release: Release, folder: Path) -> None:
    sheet = ring_sheet(data, release)
    _text(folder / f"{stem}.svg", sheet_as_svg(sheet))
    (folder / f"{stem}.pdf").write_bytes(sheets_as_pdf([sheet]))


def _robot(
    names: Sequence[str], document: str, robot: Robot, answer: Answer, known: list[Part],
    release: Release, folder: Path,
) -> None:  # fmt: skip
    sheets = robot_sheets(robot, answer, known, release)
    for name, sheet in zip(names, sheets, strict=True):
        _text(folder / name, sheet_as_svg(sheet))
    (folder / document).write_bytes(sheets_as_pdf(sheets))


def _dxf(stem: str, data: Part, chord_error_mm: float, folder: Path) -> None:
    _text(folder / f"{stem}.dxf", profile_dxf(data, chord_error_mm))


def _step(stem: str, data: Part, folder: Path) -> None:
    write_step(data, folder / f"{stem}.step")


def _inertial(name: str, robot: Robot, answer: Answer, folder: Path) -> None:
    _text(folder / name, export_inertial_xml(robot, answer))


def _tables(study: Study, answer: Answer, known: list[Part]) -> Job:
    tables = {
        "order": export_order_lines(known),
        "screws": export_screw_lines(known),
        "cutters": export_cutter_lines(answer),
        "joints": export_joint_lines(study, answer),
        "notes": export_note_lines(known),
    }
    filled = {f"{name}.csv": lines for name, lines in tables.items() if lines}
    return Job((*filled, "tables.xlsx"), partial(_write_tables, filled, tables))


def _write_tables(
    filled: dict[str, list[Line]], tables: dict[str, list[Line]], folder: Path
) -> None:
    for name, lines in filled.items():
        _text(folder / name, export_csv_text(lines))
    (folder / "tables.xlsx").write_bytes(export_workbook(tables))


def _text(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8")


def _pages(stem: str, count: int) -> list[str]:
    return [f"{stem}.svg"] if count == 1 else [f"{stem}-{i}.svg" for i in range(1, count + 1)]


def export_file_stems(names: list[str]) -> list[str]:
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


def _part_stems(names: list[str]) -> list[str]:
    """Return file names for ring parts: none is that of a robot's file, or of a device where files end so."""
    plain = [f"ring-{name}" if name.lower().startswith("robot-") else name for name in names]
    device = re.compile(r"(com|lpt)[0-9]", re.IGNORECASE)
    return export_file_stems([f"ring-{name}" if device.fullmatch(name) else name for name in plain])


def _some(names: list[str]) -> str:
    shown = ", ".join(names[:3])
    return shown if len(names) <= 3 else f"{shown} and {len(names) - 3} more of the files to write"
