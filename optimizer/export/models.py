"""What comes out when the files of an answer are asked for as data."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from ringset.schema.answer import Status
from ringset.schema.base import AnswerModel

#: Kinds of files that can be handed over as data; solids are for the command line.
SheetKind = Literal["report", "rings", "robots", "dxf", "tables", "inertial"]
SHEET_KINDS: tuple[SheetKind, ...] = ("report", "rings", "robots", "dxf", "tables", "inertial")


class SheetFile(AnswerModel):
    """One file."""

    name: str = Field(description="Its name: letters, digits, dots, hyphens and underscores.")
    kind: SheetKind
    media_type: str
    bytes: int = Field(description="Its size.")
    content_base64: str


class Sheets(AnswerModel):
    """The files of an answer, or why there are none."""

    title: str
    study_sha256: str
    status: Status = Field(description="Of the answer; only one with rings has files.")
    reasons: list[str] = Field(description="Why there are no files.")
    files: list[SheetFile]
    left_out: dict[str, str] = Field(
        description="Kinds that cannot be made here, each with the extra that whoever runs the service "
        "has to install."
    )
