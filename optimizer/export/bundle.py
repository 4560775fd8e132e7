"""The files of an answer as data instead of in a folder: for callers that have no folder of ours."""

from __future__ import annotations

import base64
from collections.abc import Iterator, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

from ringset.analysis.alternatives.advice import advice_on_answer
from ringset.drawing.drawable_names import sheet_faults
from ringset.drawing.shop_words import sheet_extras
from ringset.errors import StudyError
from ringset.export.folder import KINDS, export_jobs, missing_export_kinds
from ringset.export.models import SHEET_KINDS, SheetFile, SheetKind, Sheets
from ringset.reporting.answer_text import answer_text
from ringset.schema.answer import Answer
from ringset.schema.study import Study

MEDIA_TYPES = {
    ".txt": "text/plain; charset=utf-8",
    ".svg": "image/svg+xml",
    ".pdf": "application/pdf",
    ".dxf": "image/vnd.dxf",
    ".csv": "text/csv; charset=utf-8",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".xml": "application/xml",
}


def make_sheets(study: Study, answer: Answer, only: Sequence[SheetKind] = ()) -> Sheets:
    """Return the wanted kinds of files of an answer that the judge has passed (all by default).

    Drawings are made as `ringset.export.folder` makes them. Kinds whose library is not installed are
    left out and named. Raises StudyError for names that the drawings have no letters for (see
    `sheet_faults`) before anything is drawn, and ValueError where a ring cannot be drawn.
    """
    wanted = [kind for kind in SHEET_KINDS if kind in (only or SHEET_KINDS)]
    if faults := sheet_faults(study, only):
        raise StudyError(faults)
    lacking = missing_export_kinds(kind for kind in wanted if kind in KINDS)
    files: list[SheetFile] = []
    if answer.rings:
        with TemporaryDirectory(prefix="ringset-") as folder:
            for kind in wanted:
                if kind not in lacking:
                    files += _files(study, answer, kind, Path(folder))
    return Sheets(
        title=answer.title, study_sha256=answer.study_sha256, status=answer.status,
        reasons=answer.reasons, files=files, left_out=lacking if answer.rings else {},
    )  # fmt: skip


def _files(study: Study, answer: Answer, kind: SheetKind, folder: Path) -> Iterator[SheetFile]:
    if kind == "report":
        text = answer_text(study, answer, advice_on_answer(study, answer))
        yield _file("report.txt", kind, text.encode())
        return
    for job in export_jobs(study, answer, [kind], extras=sheet_extras(study, answer)):
        job.write(folder)
        for name in job.names:
            yield _file(name, kind, (folder / name).read_bytes())


def _file(name: str, kind: SheetKind, data: bytes) -> SheetFile:
    return SheetFile(
        name=name, kind=kind, media_type=MEDIA_TYPES[Path(name).suffix], bytes=len(data),
        content_base64=base64.b64encode(data).decode("ascii"),
    )  # fmt: skip
