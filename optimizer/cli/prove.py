"""The command that writes the proof of an answer's bounds in open formats: prove."""

from __future__ import annotations

import argparse
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from ringset.cli.files import folder_to_write, read_answer, read_certificate_file, read_study
from ringset.errors import ANSWERED, UNDECIDED, Refused

if TYPE_CHECKING:
    from ringset.schema.answer import Answer
    from ringset.schema.study import Study
    from ringset.verification.certificate.document import Certificate


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `prove`."""
    prove = commands.add_parser(
        "prove",
        help="write the proof of an answer's bounds in an open format",
        description="Write, for every wish, a formula that asks for one unit less (OPB) and the proof that "
        "nothing meets it (VeriPB), with a table of what the variables stand for, into a folder.",
    )
    prove.add_argument("study", metavar="STUDY", help="study, a JSON file")
    prove.add_argument("answer", metavar="ANSWER", help="its answer, a JSON file")
    prove.add_argument("--out", required=True, metavar="DIR", help="folder to write into")
    prove.add_argument(
        "--certificate", metavar="FILE",
        help="the answer's certificate, written by solve --certificate (it is made anew)",
    )  # fmt: skip
    prove.add_argument(
        "--only", nargs="+", metavar="WISH", help="only the proofs of these wishes (all)"
    )
    prove.add_argument(
        "--format", choices=("veripb-3.0", "veripb-2.0"), default="veripb-3.0",
        help="format of the proofs (veripb-3.0)",
    )  # fmt: skip
    prove.add_argument("--replace", action="store_true", help="overwrite files that exist")
    prove.set_defaults(run=_prove)


def _prove(options: argparse.Namespace) -> int:
    out = folder_to_write(options.out)
    study, answer = read_study(options.study), read_answer(options.answer)
    certificate = _certificate(study, answer, options.certificate)
    from ringset.export.folder import Job, Withheld, write_export_folder
    from ringset.verification.open_proofs.proofs import NoOpenProof, NotProven, open_proofs

    version = options.format.removeprefix("veripb-")
    try:
        made = open_proofs(study, answer, certificate, version=version, only=options.only)
    except NotProven as error:
        print(error, file=sys.stderr)
        return UNDECIDED
    except NoOpenProof as error:
        raise Refused(str(error)) from None
    work = [Job((name,), partial(_write, name, text)) for name, text in made.files().items()]
    try:
        write_export_folder(work, out, replace=options.replace)
    except Withheld as withheld:
        raise Refused(str(withheld)) from None
    for stage in made.stages:
        print(
            f"{stage.name}.opb, {stage.name}.pbp: {stage.rows} rows, {stage.lines} lines of proof"
        )
    print(f"{len(work)} files written to {out}; names.csv says what the variables stand for")
    return ANSWERED


def _certificate(study: Study, answer: Answer, path: str | None) -> Certificate:
    """Return the certificate of a file, or make that of the answer."""
    if path is not None:
        return read_certificate_file(path)
    from ringset.solving.certify import certify

    if not answer.rings:
        raise Refused("answer: given one without rings; allowed: one with rings to prove best")
    try:
        return certify(study, answer)
    except ValueError as error:
        raise Refused(f"answer: given {error}; allowed: one of this study") from None


def _write(name: str, text: str, folder: Path) -> None:
    (folder / name).write_text(text, encoding="utf-8")
