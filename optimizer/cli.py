"""The command `ringset`. Imports nothing heavy until a command needs it."""

from __future__ import annotations

import argparse
import math
import os
import signal
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

if TYPE_CHECKING:
    from optimizer.study import Study

ANSWERED, BROKEN, BAD_INPUT, IMPOSSIBLE, UNDECIDED = 0, 1, 2, 3, 4
_EXIT = {"proven": ANSWERED, "found": ANSWERED, "impossible": IMPOSSIBLE, "undecided": UNDECIDED}
#: Progress appears once a search has taken this long, and not more often than this, in seconds.
PROGRESS_EVERY_S = 1.0


def main(arguments: list[str] | None = None) -> int:
    """Run one command; returns the exit code: 0 answered, 1 violations, 2 bad input, 3, 4."""
    options = _parser().parse_args(arguments)
    try:
        return int(options.run(options))
    except _Refused as refused:
        print(refused, file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:
        # the reader has seen enough; keep Python from complaining at exit
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return ANSWERED


def script() -> NoReturn:
    """Entry point of the installed command."""
    sys.exit(main())


class _Refused(Exception):
    """Bad input, worded for people."""


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="ringset",
        description="Sizes the toothed target rings of a whole robot at once, with proof.",
        epilog="Exit codes: 0 answered, 1 the judge found violations, 2 bad input, 3 impossible, "
        "4 undecided in the time given.",
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    solve = commands.add_parser("solve", help="answer a study", description="Answer a study.")
    solve.add_argument("study", metavar="STUDY", help="study, a JSON file; - reads standard input")
    solve.add_argument(
        "--answer",
        metavar="FILE",
        help="write the answer as JSON; - prints it instead of the report",
    )
    solve.add_argument("--table", metavar="FILE.csv", help="write one line per joint as CSV")
    solve.add_argument("--verbose", action="store_true", help="print the seconds of each stage")
    solve.set_defaults(run=_solve)

    rate = commands.add_parser(
        "rate",
        help="rate one ring you have in mind on one joint",
        description="Rate one ring on one joint: hand calculation, error budget, margins.",
    )
    rate.add_argument("study", metavar="STUDY", help="study, a JSON file; - reads standard input")
    rate.add_argument("--robot", help="robot, where joints of several robots share a name")
    rate.add_argument("--joint", required=True, help="joint")
    rate.add_argument("--module", type=float, required=True, metavar="MM", help="module")
    toothing = rate.add_mutually_exclusive_group(required=True)
    toothing.add_argument("--teeth", type=int, metavar="N", help="tooth count")
    toothing.add_argument("--tip", type=float, metavar="MM", help="or largest tip diameter")
    hole = rate.add_mutually_exclusive_group(required=True)
    hole.add_argument("--bore", type=float, metavar="MM", help="bore")
    hole.add_argument("--rim", type=float, metavar="MM", help="or rim between root and bore")
    rate.add_argument("--heads", type=int, metavar="N", help="number of heads (the joint's fewest)")
    rate.set_defaults(run=_rate)

    judge = commands.add_parser(
        "judge",
        help="check an answer against a study without any solver",
        description="Recompute every limit and total of an answer and name every violation.",
    )
    judge.add_argument("study", metavar="STUDY", help="study, a JSON file")
    judge.add_argument("answer", metavar="ANSWER", help="answer, a JSON file")
    judge.set_defaults(run=_judge)

    new = commands.add_parser(
        "new", help="write a starter study", description="Write a starter study to edit."
    )
    new.add_argument("file", metavar="FILE", help="file to write; must not exist")
    new.add_argument("--joints", type=int, default=6, metavar="N", help="number of joints (6)")
    new.set_defaults(run=_new)

    fields = commands.add_parser(
        "fields",
        help="list every field of a study with its default and source",
        description="List every field of a study with its default and where that comes from.",
    )
    fields.add_argument("--json", action="store_true", help="print the JSON Schema instead")
    fields.set_defaults(run=_fields)
    return parser


def _solve(options: argparse.Namespace) -> int:
    # an interrupt ends the process at once: files are only ever written whole
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    started = time.perf_counter()
    study = _study(options.study)
    from optimizer.line import solve
    from optimizer.loading import StudyError

    laps: list[tuple[str, float]] = [("read and import", time.perf_counter() - started)]
    try:
        answer = solve(study, _Progress(), lambda stage, seconds: laps.append((stage, seconds)))
    except StudyError as error:
        raise _Refused(str(error)) from None
    from optimizer.report import report, ring_table_csv

    if options.answer and options.answer != "-":
        _write(Path(options.answer), answer.to_json())
    if options.table:
        _write(Path(options.table), ring_table_csv(study, answer))
    sys.stdout.write(answer.to_json() if options.answer == "-" else report(study, answer))
    sys.stdout.flush()
    if options.verbose:
        for stage, seconds in [*laps, ("all", time.perf_counter() - started)]:
            print(f"{stage:16s} {seconds:8.3f} s", file=sys.stderr)
    return _EXIT[answer.status]


def _rate(options: argparse.Namespace) -> int:
    study = _study(options.study)
    from optimizer.loading import StudyError
    from optimizer.report import rating
    from optimizer.single import bore_for_rim, find_joint, rate_one, teeth_for_tip

    for name, least, most in (("module", 0.05, 50.0), ("tip", 1.0, 5e3), ("rim", 0.0, 5e3)):
        value = getattr(options, name)
        if value is not None and not least <= value <= most:
            raise _Refused(f"--{name}: given {value:g}; allowed: {least:g} to {most:g} mm")
    if options.bore is not None and not math.isfinite(options.bore):
        raise _Refused(f"--bore: given {options.bore:g}; allowed: a finite number of mm")
    try:
        robot, joint = find_joint(study, options.joint, options.robot)
        teeth = options.teeth
        if teeth is None:
            teeth = teeth_for_tip(study, options.module, options.tip)
        bore = options.bore
        if bore is None:
            bore = bore_for_rim(study, options.module, teeth, options.rim)
        heads = options.heads if options.heads is not None else min(joint.head_counts)
        ring, faults = rate_one(study, robot, joint, options.module, teeth, bore, heads)
    except StudyError as error:
        raise _Refused(str(error)) from None
    sys.stdout.write(rating(ring, faults, study.target.basis))
    return ANSWERED


def _judge(options: argparse.Namespace) -> int:
    study = _study(options.study)
    from optimizer.judge import judge
    from optimizer.loading import StudyError, load_answer

    try:
        answer = load_answer(_text(options.answer))
    except StudyError as error:
        raise _Refused(f"{options.answer} is not an answer:\n{error}") from None
    violations = judge(study, answer)
    for violation in violations:
        print(violation)
    if not violations:
        print(f"No violation found. The answer states: {answer.status}.")
    return BROKEN if violations else ANSWERED


def _new(options: argparse.Namespace) -> int:
    if not 1 <= options.joints <= 100:
        raise _Refused(f"--joints: given {options.joints}; allowed: 1 to 100")
    from optimizer.starter import starter

    path = Path(options.file)
    if path.exists():
        raise _Refused(f"{path}: given a file that exists; allowed: a new name")
    _write(path, starter(options.joints))
    print(f"{path} written. Put in your bores, tip limits and target, then: ringset solve {path}")
    return ANSWERED


def _fields(options: argparse.Namespace) -> int:
    from optimizer.fields import field_list, schema_json

    sys.stdout.write(schema_json() if options.json else field_list())
    return ANSWERED


def _study(path: str) -> Study:
    text = _text(path)
    from optimizer.loading import StudyError, load_study

    try:
        return load_study(text)
    except StudyError as error:
        raise _Refused(str(error)) from None


def _text(path: str) -> bytes:
    try:
        return sys.stdin.buffer.read() if path == "-" else Path(path).read_bytes()
    except OSError as error:
        raise _Refused(f"{path}: given a file that cannot be read ({error.strerror})") from None


def _write(path: Path, text: str) -> None:
    """Write a file whole or not at all."""
    draft = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        draft.write_text(text, encoding="utf-8")
        draft.replace(path)
    except OSError as error:
        draft.unlink(missing_ok=True)
        raise _Refused(f"{path}: given a place that cannot be written ({error.strerror})") from None


class _Progress:
    """Prints bound and best so far of a long search on standard error."""

    def __init__(self) -> None:
        self.started = self.last = time.monotonic()

    def __call__(self, stage: str, best: float | None, bound: float | None, unit: str) -> None:
        now = time.monotonic()
        if now - self.last < PROGRESS_EVERY_S or stage == "ties":
            return
        self.last = now
        shown = ["none yet" if value is None else f"{value:g} {unit}" for value in (best, bound)]
        print(
            f"{now - self.started:7.1f} s  {stage}: best {shown[0]}, bound {shown[1]}",
            file=sys.stderr,
        )


if __name__ == "__main__":
    script()
