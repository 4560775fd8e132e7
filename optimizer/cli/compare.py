"""The command that sets answers side by side."""

from __future__ import annotations

import argparse
import json
import signal
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ringset.cli.files import (
    read_input_file,
    refuse_file_ending,
    refuse_option_clashes,
    write_whole,
)
from ringset.errors import ANSWERED, Refused
from ringset.reporting.progress import SearchProgress

if TYPE_CHECKING:
    from ringset.schema.answer import Answer
    from ringset.schema.study import Study

FILES_MIN, FILES_MAX = 2, 10


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `compare`."""
    compare = commands.add_parser(
        "compare",
        help="set answers or studies side by side",
        description="Which rings changed, and what it did to each total: two to ten answers side by "
        "side. A study is solved first; an answer is taken as it is.",
    )
    compare.add_argument(
        "files",
        nargs="+",
        metavar="FILE",
        help="study or answer, a JSON file; differences are against the first; - reads standard input",
    )
    compare.add_argument(
        "--json",
        metavar="FILE",
        help="write the comparison as JSON; - prints it instead of the tables",
    )
    compare.add_argument(
        "--csv", metavar="FILE.csv", help="write one line per joint and answer as CSV"
    )
    compare.set_defaults(run=_compare)


def _compare(options: argparse.Namespace) -> int:
    # an interrupt ends the process at once: files are only ever written whole
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    files: list[str] = options.files
    if not FILES_MIN <= len(files) <= FILES_MAX:
        raise Refused(f"FILE: given {len(files)}; allowed: {FILES_MIN} to {FILES_MAX}")
    if files.count("-") > 1:
        raise Refused(f"FILE: given - {files.count('-')} times; allowed: once")
    for file in files:
        refuse_option_clashes(FILE=file, json=options.json, csv=options.csv)
    if options.csv == "-":
        raise Refused("--csv: given -; allowed: a file name")
    refuse_file_ending("--csv", options.csv, ".csv")
    # every file is read and checked before the first study is solved
    pieces = [_piece(file) for file in files]
    from ringset.analysis.comparison.compare import Entry, compare_answers
    from ringset.schema.study import Study

    entries = []
    for name, piece in zip(column_names(files), pieces, strict=True):
        if isinstance(piece, Study):
            entries.append(Entry(name, _solved(name, piece), piece))
        else:
            entries.append(Entry(name, piece))
    try:
        comparison = compare_answers(entries)
    except ValueError as error:
        raise Refused(str(error)) from None
    from ringset.reporting.comparison_text import comparison_csv, comparison_text

    if options.json and options.json != "-":
        write_whole(Path(options.json), comparison.to_json())
    if options.csv and not comparison.joints:
        print("no CSV written: no answer holds rings", file=sys.stderr)
    elif options.csv:
        write_whole(Path(options.csv), comparison_csv(comparison))
    printed = comparison.to_json() if options.json == "-" else comparison_text(comparison)
    sys.stdout.write(printed)
    return ANSWERED


def _piece(file: str) -> Study | Answer:
    """Return the study or the answer in a file, recognised by what it holds."""
    text = read_input_file(file)
    from ringset.errors import StudyError
    from ringset.schema.loading import load_answer, load_study

    kind, load = ("answer", load_answer) if _is_answer(text) else ("study", load_study)
    try:
        return load(text)
    except StudyError as error:
        raise Refused(
            f"{file} is not {'an' if kind == 'answer' else 'a'} {kind}:\n{error}"
        ) from None


def _is_answer(text: bytes) -> bool:
    """Say whether a text is meant as an answer: no study has these fields."""
    try:
        tree = json.loads(text)
    except (ValueError, RecursionError):
        return False  # reading it as a study names what is wrong
    return isinstance(tree, dict) and not tree.keys().isdisjoint({"study_sha256", "rings"})


def _solved(name: str, study: Study) -> Answer:
    from ringset.errors import StudyError
    from ringset.solving.pipeline import solve

    progress = SearchProgress()

    def tell(stage: str, best: float | None, bound: float | None, unit: str) -> None:
        if stage != "ties":
            progress(f"{name}: {stage}", best, bound, unit)

    try:
        return solve(study, tell)
    except StudyError as error:
        raise Refused(f"{name}:\n{error}") from None


def column_names(files: Sequence[str]) -> list[str]:
    """Return a name for each file: its own, with as many directories as it takes to tell them apart.

    The same file given twice is numbered. Names never begin like a formula of a spreadsheet.
    """
    parts = [Path(file).parts if file != "-" else ("standard input",) for file in files]
    names = []
    for mine in parts:
        length = 1
        while length < len(mine) and any(
            other[-length:] == mine[-length:] for other in parts if other != mine
        ):
            length += 1
        name = "".join(c if c.isprintable() else "?" for c in str(Path(*mine[-length:])))
        names.append(f"./{name}" if name[0] in "=+-@" else name)
    return [
        name if names.count(name) == 1 else f"{name} ({names[: place + 1].count(name)})"
        for place, name in enumerate(names)
    ]
