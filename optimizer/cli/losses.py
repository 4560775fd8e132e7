"""The command that says what it costs to lose a cutter, a head, a ring part or a stock size."""

from __future__ import annotations

import argparse
import signal
import sys
from pathlib import Path

from ringset.cli.files import (
    read_answer,
    read_study,
    refuse_folder_that_is_there,
    refuse_option_clashes,
    write_new_folder,
    write_whole,
)
from ringset.errors import ANSWERED, UNDECIDED, Refused


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `losses`."""
    losses = commands.add_parser(
        "losses",
        help="say what it costs to lose a cutter, a head, a ring part or a stock size",
        description="For each cutter, head, ring part and stock size of an answer: the best answer of the "
        "study without it, what that costs of every wish, and how sure it is; or that nothing is possible "
        "without it.",
    )
    losses.add_argument("study", metavar="STUDY", help="study, a JSON file; - reads standard input")
    losses.add_argument("answer", metavar="ANSWER", help="its answer, a JSON file")
    losses.add_argument(
        "--json", metavar="FILE", help="write everything as JSON; - prints it instead of the text"
    )
    losses.add_argument(
        "--answers",
        metavar="DIR",
        help="write the answer without each thing into a new directory, for judge, compare and sheet",
    )
    losses.set_defaults(run=_losses)


def _losses(options: argparse.Namespace) -> int:
    # an interrupt ends the process at once: files are only ever written whole
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    refuse_option_clashes(
        STUDY=options.study, ANSWER=options.answer, json=options.json, answers=options.answers
    )
    refuse_folder_that_is_there("--answers", options.answers)
    study, answer = read_study(options.study), read_answer(options.answer)
    from ringset.analysis.losses.losses import find_losses
    from ringset.errors import StudyError
    from ringset.export.folder import export_file_stems
    from ringset.reporting.losses_text import losses_text

    try:
        found = find_losses(study, answer, options.begun)
    except StudyError as error:
        raise Refused(str(error)) from None
    if options.json and options.json != "-":
        write_whole(Path(options.json), found.to_json())
    if options.answers:
        lost = [loss for loss in found.losses if loss.answer is not None]
        named = [loss.name if loss.kind in ("cutter", "ring part") else loss.thing for loss in lost]
        stems = export_file_stems([f"without-{name}" for name in named])
        texts = [loss.answer.to_json() for loss in lost if loss.answer is not None]
        files = {f"{stem}.json": text for stem, text in zip(stems, texts, strict=True)}
        write_new_folder(Path(options.answers), files)
    sys.stdout.write(found.to_json() if options.json == "-" else losses_text(found))
    return UNDECIDED if found.open else ANSWERED
