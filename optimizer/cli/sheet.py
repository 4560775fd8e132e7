"""The command that hands an answer to the shop and the next tools: sheet."""

from __future__ import annotations

import argparse
import re
import sys

from ringset.cli.files import folder_to_write, read_answer, read_study
from ringset.errors import ANSWERED, Refused, StudyError

#: Kinds of files, as `ringset.export.folder.KINDS` has them.
KINDS = ("rings", "robots", "dxf", "tables", "inertial", "step")
#: Those that show one ring part each.
OF_PARTS = ("rings", "dxf", "step")


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `sheet`."""
    sheet = commands.add_parser(
        "sheet",
        help="write drawings, DXF, STEP, tables and inertia of an answer",
        description="Write drawings (SVG, PDF), profiles (DXF), solids (STEP), tables (CSV, XLSX) and "
        "inertia (URDF inertial) of an answer into a folder.",
    )
    sheet.add_argument("study", metavar="STUDY", help="study, a JSON file")
    sheet.add_argument("answer", metavar="ANSWER", help="its answer, a JSON file")
    sheet.add_argument("--out", required=True, metavar="DIR", help="folder to write into")
    sheet.add_argument(
        "--only", nargs="+", choices=KINDS, metavar="KIND",
        help=f"only these kinds of files: {', '.join(KINDS)} (all)",
    )  # fmt: skip
    sheet.add_argument(
        "--parts", nargs="+", metavar="PART",
        help=f"only these ring parts, such as R1: {', '.join(OF_PARTS)} (all)",
    )  # fmt: skip
    sheet.add_argument("--replace", action="store_true", help="overwrite files that exist")
    sheet.add_argument(
        "--chord-um", type=float, default=0.5, metavar="UM",
        help="largest distance of a DXF chord from the true flank (0.5)",
    )  # fmt: skip
    for name, text in (
        ("owner", "legal owner"), ("creator", "who drew"), ("approved", "who approved"),
        ("revision", "revision index"), ("date", "date of issue, YYYY-MM-DD"),
    ):  # fmt: skip
        sheet.add_argument(f"--{name}", default="", help=f"{text}, for the title block")
    sheet.set_defaults(run=_sheet)


def _sheet(options: argparse.Namespace) -> int:
    if not 0.05 <= options.chord_um <= 100.0:
        raise Refused(f"--chord-um: given {options.chord_um:g}; allowed: 0.05 to 100")
    if options.date and not re.fullmatch(r"\d{4}-\d{2}-\d{2}", options.date):
        raise Refused(f"--date: given {options.date!r}; allowed: YYYY-MM-DD")
    out = folder_to_write(options.out)
    study, answer = read_study(options.study), read_answer(options.answer)
    from ringset.verification.judge.judge import judge

    violations = judge(study, answer)
    if violations or not answer.rings:
        text = "\n".join(violations) or "it holds no rings"
        raise Refused(f"{options.answer}: given an answer that cannot be drawn:\n{text}")
    chosen = _of_parts(options.only, options.parts, [part.id for part in answer.ring_parts])
    kinds = _kinds(chosen, named=options.only is not None)
    from ringset.drawing.frame import Release
    from ringset.drawing.shop_words import sheet_extras
    from ringset.export.folder import Withheld, export_jobs, write_export_folder
    from ringset.search.engines.quiet_stdout import quiet_stdout

    release = Release(
        owner=options.owner, creator=options.creator, approved=options.approved,
        date=options.date, revision=options.revision,
    )  # fmt: skip
    try:
        work = export_jobs(
            study, answer, kinds, release=release, chord_error_mm=options.chord_um / 1e3,
            extras=sheet_extras(study, answer), wanted=options.parts,
        )  # fmt: skip
        with quiet_stdout():  # the CAD kernel tells of every transfer
            names = write_export_folder(work, out, replace=options.replace)
    except Withheld as withheld:
        raise Refused(str(withheld)) from None
    except KeyboardInterrupt:
        raise Refused(f"{out}: interrupted, nothing is written") from None
    except StudyError as error:
        raise Refused(str(error)) from None
    except ValueError as error:
        raise Refused(f"{options.answer}: cannot be drawn ({error})") from None
    print(f"{len(names)} files written to {out}: {', '.join(kinds)}")
    return ANSWERED


def _of_parts(
    only: list[str] | None, wanted: list[str] | None, known: list[str]
) -> list[str] | None:
    """Return the kinds asked for; with chosen parts those that show one part each."""
    if wanted is None:
        return only
    for name in wanted:
        if name not in known:
            raise Refused(f"--parts: given {name}; allowed: {', '.join(known)}")
    if only is None:
        return list(OF_PARTS)
    for kind in only:
        if kind not in OF_PARTS:
            raise Refused(f"--only: given {kind}; allowed with --parts: {', '.join(OF_PARTS)}")
    return only


def _kinds(only: list[str] | None, *, named: bool) -> list[str]:
    """Return the kinds to make; what is asked for by name must be possible, else it is left out."""
    from ringset.export.folder import missing_export_kinds

    kinds = [kind for kind in KINDS if only is None or kind in only]
    lacking = missing_export_kinds(kinds)
    if named and lacking:
        kind, extra = next(iter(lacking.items()))
        raise Refused(
            f"--only: given {kind}; allowed where its extra is installed: pip install '.[{extra}]'"
        )
    for kind, extra in lacking.items():
        print(f"{kind}: left out; to have them: pip install '.[{extra}]'", file=sys.stderr)
    return [kind for kind in kinds if kind not in lacking]
