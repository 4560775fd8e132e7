"""The command `ringset`. Imports nothing heavy until a command needs it."""

from __future__ import annotations

import argparse
import contextlib
import math
import os
import signal
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from optimizer.progress import SearchProgress, TurnsProgress

if TYPE_CHECKING:
    from optimizer.answer import Answer
    from optimizer.study import Study

ANSWERED, BROKEN, BAD_INPUT, IMPOSSIBLE, UNDECIDED = 0, 1, 2, 3, 4
_EXIT = {"proven": ANSWERED, "found": ANSWERED, "impossible": IMPOSSIBLE, "undecided": UNDECIDED}


def main(arguments: list[str] | None = None) -> int:
    """Run one command; returns the exit code: 0 answered, 1 violations, 2 bad input, 3, 4."""
    options = _parser().parse_args(arguments)
    if sys.stdout is None:
        print("standard output: closed", file=sys.stderr)
        return BAD_INPUT
    try:
        code = int(options.run(options))
        sys.stdout.flush()
        return code
    except _Refused as refused:
        print(refused, file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:
        _silence_stdout()  # the reader has seen enough
        return ANSWERED
    except OSError as error:
        _silence_stdout()
        print(f"standard output: cannot be written ({error.strerror})", file=sys.stderr)
        return BAD_INPUT


def _silence_stdout() -> None:
    """Keep Python from complaining at exit about what could not be written."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)


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

    simulate = commands.add_parser(
        "simulate",
        help="turn the rings of an answer thousands of times within their tolerances",
        description="Simulated yield of an answer: signals of every head, sample by sample, within the "
        "study's tolerances.",
    )
    simulate.add_argument("study", metavar="STUDY", help="study, a JSON file")
    simulate.add_argument("answer", metavar="ANSWER", help="its answer, a JSON file")
    simulate.add_argument(
        "--turns", type=int, default=2000, metavar="N", help="turns a joint (2000)"
    )
    simulate.add_argument("--seed", type=int, default=1, metavar="N", help="seed of the draws (1)")
    simulate.add_argument(
        "--spread", choices=("even", "full"), default="even",
        help="tolerances even up to their limit, or all at their limit (even)",
    )  # fmt: skip
    simulate.add_argument(
        "--joint", metavar="ROBOT/JOINT", help="joint for --terms and --plot (the first)"
    )
    simulate.add_argument(
        "--terms", action="store_true", help="each budget line beside the simulation of it alone"
    )
    simulate.add_argument(
        "--plot", metavar="FILE.svg", help="draw error curves, spectrum, distribution (extra plot)"
    )
    simulate.set_defaults(run=_simulate)

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
    _refuse_clashes(STUDY=options.study, answer=options.answer, table=options.table)
    if options.table == "-":
        raise _Refused("--table: given -; allowed: a file name")
    study = _study(options.study)
    from optimizer.line import solve
    from optimizer.loading import StudyError

    laps: list[tuple[str, float]] = [("read and import", time.perf_counter() - started)]
    try:
        answer = solve(
            study, SearchProgress(), lambda stage, seconds: laps.append((stage, seconds))
        )
    except StudyError as error:
        raise _Refused(str(error)) from None
    from optimizer.report import report, ring_table_csv

    if options.answer and options.answer != "-":
        _write(Path(options.answer), answer.to_json())
    if options.table and not answer.rings:
        print("no table written: the answer holds no rings", file=sys.stderr)
    elif options.table:
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
    answer = _answer_of(options.answer)
    from optimizer.judge import judge

    violations = judge(study, answer)
    for violation in violations:
        print(violation)
    if not violations:
        print(f"No violation found. The answer states: {answer.status}.")
        if not answer.rings:
            print("That is the search's finding; a judge without a solver cannot repeat it.")
    return BROKEN if violations else ANSWERED


def _simulate(options: argparse.Namespace) -> int:
    for name, least, most in (("turns", 1, 1_000_000), ("seed", 0, 2**31 - 1)):
        if not least <= getattr(options, name) <= most:
            given = getattr(options, name)
            raise _Refused(f"--{name}: given {given}; allowed: {least} to {most}")
    if options.plot is not None:
        if options.terms:
            raise _Refused("--plot: given beside --terms; allowed: one of the two")
        if options.plot in ("", "-"):
            raise _Refused(f"--plot: given {options.plot!r}; allowed: a file name")
        _refuse_clashes(STUDY=options.study, ANSWER=options.answer, plot=options.plot)
        _needs_matplotlib()
        place = Path(options.plot).resolve().parent
        if not place.is_dir() or not os.access(place, os.W_OK):
            # told before the work, not after it
            raise _Refused(f"--plot: given {options.plot}; allowed: a place that can be written")
    study = _study(options.study)
    answer = _answer_of(options.answer)
    from optimizer.judge import judge

    violations = judge(study, answer)
    if violations or not answer.rings:
        text = "\n".join(violations) or "it holds no rings"
        raise _Refused(f"{options.answer}: given an answer that cannot be simulated:\n{text}")
    from optimizer.agreement import agreements
    from optimizer.simulate import cases, simulate
    from optimizer.yields import agreement_text, draw_yield, yield_text

    labels = [f"{ring.robot}/{ring.joint}" for ring in answer.rings]
    wanted = options.joint if options.joint is not None else labels[0]
    if wanted not in labels:
        raise _Refused(f"--joint: given {wanted!r}; allowed: {', '.join(labels)}")
    index = labels.index(wanted)
    if options.terms:
        case = cases(study, answer)[index]
        try:
            sys.stdout.write(agreement_text(case, agreements(case, options.seed)))
        except ValueError as error:
            raise _Refused(f"{wanted}: cannot be simulated ({error})") from None
        return ANSWERED
    try:
        joints, robots = simulate(
            study, answer, options.turns, options.seed, options.spread, progress=TurnsProgress()
        )
    except ValueError as error:
        raise _Refused(f"{options.answer}: cannot be simulated ({error})") from None
    sys.stdout.write(yield_text(joints, robots, options.turns, options.seed, options.spread))
    if options.plot:
        _write(Path(options.plot), draw_yield(joints[index], options.seed, options.spread))
    return ANSWERED


def _needs_matplotlib() -> None:
    try:
        import matplotlib  # noqa: F401
    except ImportError:
        text = "--plot: needs matplotlib; install it with: pip install '.[plot]'"
        raise _Refused(text) from None


def _new(options: argparse.Namespace) -> int:
    if not 1 <= options.joints <= 100:
        raise _Refused(f"--joints: given {options.joints}; allowed: 1 to 100")
    from optimizer.starter import starter

    path = Path(options.file)
    if options.file == "-" or path.exists() or path.is_symlink():
        raise _Refused(f"{path}: given a file that exists or no file; allowed: a new name")
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


def _answer_of(path: str) -> Answer:
    text = _text(path)
    from optimizer.loading import StudyError, load_answer

    try:
        return load_answer(text)
    except StudyError as error:
        raise _Refused(f"{path} is not an answer:\n{error}") from None


def _text(path: str) -> bytes:
    try:
        return sys.stdin.buffer.read() if path == "-" else Path(path).read_bytes()
    except OSError as error:
        raise _Refused(f"{path}: given a file that cannot be read ({error.strerror})") from None


def _write(path: Path, text: str) -> None:
    """Write a file whole or not at all; devices and pipes are written to, links followed."""
    path = path.resolve() if path.is_symlink() else path
    if path.exists() and not path.is_file() and not path.is_dir():
        try:
            path.write_text(text, encoding="utf-8")
        except OSError as error:
            raise _cannot_write(path, error) from None
        return
    draft = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        draft.write_text(text, encoding="utf-8")
        draft.replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            draft.unlink(missing_ok=True)
        raise _cannot_write(path, error) from None


def _cannot_write(path: Path, error: OSError) -> _Refused:
    return _Refused(f"{path}: given a place that cannot be written ({error.strerror})")


def _refuse_clashes(**files: str | None) -> None:
    """Refuse two options that name one file: the second would overwrite the first."""
    seen: dict[Path, str] = {}
    for option, name in files.items():
        if name is None or name == "-":
            continue
        path = Path(name).resolve()
        if path in seen and not (path.exists() and not path.is_file()):
            name = option if option.isupper() else f"--{option}"
            raise _Refused(f"{name}: given the same file as {seen[path]}; allowed: another file")
        seen[path] = option


if __name__ == "__main__":
    script()
