"""The command that answers a study."""

from __future__ import annotations

import argparse
import signal
import sys
import time
from pathlib import Path

from ringset.cli.assumptions import (
    EXTRA_S,
    extra_seconds,
    print_band,
    print_what_decides,
    start_assumptions_helper,
)
from ringset.cli.files import (
    read_previous,
    read_study,
    refuse_file_ending,
    refuse_option_clashes,
    write_whole,
)
from ringset.errors import ANSWERED, IMPOSSIBLE, UNDECIDED, Refused
from ringset.reporting.progress import SearchProgress

TYPE_CHECKING = False
if TYPE_CHECKING:
    from ringset.analysis.assumptions.helper import Helper
    from ringset.schema.answer import Answer
    from ringset.schema.study import Study

_EXIT = {
    "proven": ANSWERED,
    "agreed": ANSWERED,
    "found": ANSWERED,
    "impossible": IMPOSSIBLE,
    "undecided": UNDECIDED,
}


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `solve`."""
    solve = commands.add_parser("solve", help="answer a study", description="Answer a study.")
    solve.add_argument("study", metavar="STUDY", help="study, a JSON file; - reads standard input")
    solve.add_argument(
        "--answer",
        metavar="FILE",
        help="write the answer as JSON; - prints it instead of the report",
    )
    solve.add_argument(
        "--previous",
        metavar="ANSWER",
        help="keep the names of ring parts of the answer to an earlier revision",
    )
    solve.add_argument("--table", metavar="FILE.csv", help="write one line per joint as CSV")
    solve.add_argument(
        "--certificate",
        metavar="FILE",
        help="write the proof of every stage as JSON, to be checked by judge --certificate",
    )
    solve.add_argument(
        "--band",
        action="store_true",
        help="print the answers at the hopeful and at the careful end of all assumed inputs too",
    )
    solve.add_argument(
        "--bare",
        action="store_true",
        help="print the answer alone: neither what one step more of each wish would buy nor what decides it",
    )
    solve.add_argument("--verbose", action="store_true", help="print the seconds of each stage")
    solve.set_defaults(run=_solve)


def _solve(options: argparse.Namespace) -> int:
    # an interrupt ends the process at once: files are only ever written whole
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    started = time.perf_counter()
    refuse_option_clashes(
        STUDY=options.study, previous=options.previous, answer=options.answer, table=options.table,
        certificate=options.certificate,
    )  # fmt: skip
    for option in ("table", "certificate"):
        if getattr(options, option) == "-":
            raise Refused(f"--{option}: given -; allowed: a file name")
    refuse_file_ending("--table", options.table, ".csv")
    if options.study == options.previous == "-":
        raise Refused("--previous: given -; allowed: a file name where STUDY is -")
    study = read_study(options.study)
    previous = None if options.previous is None else read_previous(options.previous)
    extras = options.answer != "-" and not options.bare
    helper = start_assumptions_helper(study) if extras else None  # it loads the solver meanwhile
    try:
        return _answered(options, study, previous, started, extras, helper)
    finally:
        if helper is not None:
            helper.end()


def _answered(
    options: argparse.Namespace, study: Study, previous: Answer | None, started: float, extras: bool,
    helper: Helper | None,
) -> int:  # fmt: skip
    """Answer the study, print or write the answer, and then what decides it."""
    from ringset.errors import StudyError
    from ringset.solving.pipeline import solve_in_full

    laps: list[tuple[str, float]] = [("read and import", time.perf_counter() - started)]
    try:
        solved = solve_in_full(
            study,
            SearchProgress(options.begun),
            lambda stage, seconds: laps.append((stage, seconds)),
            options.begun,
            previous=previous,
        )
    except StudyError as error:
        raise Refused(str(error)) from None
    answer = solved.answer
    from ringset.analysis.alternatives.advice import advice_on_answer
    from ringset.analysis.next_steps.steps import next_wish_steps
    from ringset.export.ring_table import export_ring_table_csv
    from ringset.reporting.answer_text import answer_text, short_text

    if options.answer and options.answer != "-":
        write_whole(Path(options.answer), answer.to_json())
    if options.table and not answer.rings:
        print("no table written: the answer holds no rings", file=sys.stderr)
    elif options.table:
        write_whole(Path(options.table), export_ring_table_csv(study, answer))
    if options.certificate and not answer.rings:
        print("no certificate written: the answer holds no rings", file=sys.stderr)
    elif options.certificate:
        from ringset.solving.certify import solved_certificate

        begun = time.perf_counter()
        write_whole(Path(options.certificate), solved_certificate(solved).to_json())
        laps.append(("certificate", time.perf_counter() - begun))
    begun, steps = time.perf_counter(), None
    if options.answer == "-":
        sys.stdout.write(answer.to_json())
    else:
        if not options.bare:
            steps = next_wish_steps(
                solved, min(extra_seconds(study), max(EXTRA_S, solved.choosing_s))
            )
            laps.append(("next steps", time.perf_counter() - begun))
        sys.stdout.write(answer_text(study, answer, advice_on_answer(study, answer), steps))
    sys.stdout.flush()
    if extras and answer.status != "undecided":
        begun = time.perf_counter()
        print_what_decides(study, solved, helper, short_text(study, answer, steps), options.begun)
        laps.append(("what decides", time.perf_counter() - begun))
    if options.band and options.answer != "-":
        print_band(study, answer)
    if options.verbose:
        for stage, seconds in [*laps, ("all", time.perf_counter() - started)]:
            print(f"{stage:18s} {seconds:8.3f} s", file=sys.stderr)
    return _EXIT[answer.status]
