"""The command that says which assumed inputs decide an answer."""

from __future__ import annotations

import argparse
import os
import signal
import sys
import time
from pathlib import Path

from ringset.cli.files import read_study, refuse_option_clashes, write_whole
from ringset.errors import ANSWERED, IMPOSSIBLE, UNDECIDED, Refused

#: Seconds that `solve` spends on steps, and on what decides; in proportion for more than six joints.
EXTRA_S, JOINTS = 2.0, 6
#: Joints from which a second process is worth its beginning.
JOINTS_BESIDE = 4
#: Least time to look for what decides; with less nothing is looked for, and that is said.
DECIDES_LEAST_S = 0.2
_NO_TIME_LEFT = (
    "The study's time (search.time_limit_s) was over before its assumed inputs could be looked at; "
    "`ringset assumptions` says which of them decide."
)

TYPE_CHECKING = False
if TYPE_CHECKING:
    from ringset.analysis.assumptions.helper import Helper
    from ringset.schema.answer import Answer
    from ringset.schema.study import Study
    from ringset.solving.solved import Solved


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `assumptions`."""
    made = commands.add_parser(
        "assumptions",
        help="say which assumed inputs decide the answer, and how much",
        description="Every assumed input with its plausible range, those that decide the answer first: all "
        "are rated at both ends, the ten strongest solved there. With --band, the answers with all of them "
        "at their hopeful and at their careful ends together.",
    )
    made.add_argument("study", metavar="STUDY", help="study, a JSON file; - reads standard input")
    made.add_argument("--band", action="store_true", help="solve the band instead")
    made.add_argument(
        "--json", metavar="FILE", help="write everything as JSON; - prints it instead of the text"
    )
    made.set_defaults(run=_assumptions)


def _assumptions(options: argparse.Namespace) -> int:
    # an interrupt ends the process at once: files are only ever written whole
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    refuse_option_clashes(STUDY=options.study, json=options.json)
    study = read_study(options.study)
    from ringset.errors import StudyError

    try:
        return _band(options, study) if options.band else _ranked(options, study)
    except StudyError as error:
        raise Refused(str(error)) from None


def _ranked(options: argparse.Namespace, study: Study) -> int:
    helper = start_assumptions_helper(study)
    from ringset.analysis.assumptions.effects import rank_assumptions
    from ringset.reporting.assumptions_text import assumptions_text

    try:
        found = rank_assumptions(study, helper=helper)
    finally:
        if helper is not None:
            helper.end()
    _write(options, found.to_json(), assumptions_text(found))
    return UNDECIDED if found.open or found.answer.status == "undecided" else ANSWERED


def _band(options: argparse.Namespace, study: Study) -> int:
    from ringset.analysis.assumptions.band import find_band
    from ringset.reporting.assumptions_text import band_text

    band = find_band(study)
    _write(options, band.to_json(), band_text(band))
    known = [answer.status for answer in (band.hopeful, band.stated, band.careful)]
    if "undecided" in known or band.causes_open:
        return UNDECIDED
    return IMPOSSIBLE if known[0] == known[1] == "impossible" else ANSWERED


def _write(options: argparse.Namespace, document: str, text: str) -> None:
    if options.json and options.json != "-":
        write_whole(Path(options.json), document)
    sys.stdout.write(document if options.json == "-" else text)


def start_assumptions_helper(study: Study) -> Helper | None:
    """Return a second process for the ends, begun where there are cores and joints enough for two."""
    joints = sum(len(robot.joints) for robot in study.robots)
    if joints < JOINTS_BESIDE or len(os.sched_getaffinity(0)) < 2:
        return None
    from ringset.analysis.assumptions.helper import Helper

    try:
        return Helper()
    except OSError:
        return None  # no room for a process: one will do


def extra_seconds(study: Study) -> float:
    """Return how long one of the extras of `solve` may take."""
    joints = sum(len(robot.joints) for robot in study.robots)
    return EXTRA_S * max(1.0, joints / JOINTS)


def print_what_decides(
    study: Study, solved: Solved, helper: Helper | None, short: str, begun: float
) -> None:
    """Print which assumed inputs decide an answer that has been printed already, after its first lines.

    So the last screen of a long report says in short what the answer is and what it rests on. `begun` is a
    time of `time.monotonic` from which the study's time counts; where it is over, that is said instead.
    """
    from ringset.solving.pipeline import solving_end_time

    left = solving_end_time(study, begun) - time.monotonic()
    if left < DECIDES_LEAST_S:
        sys.stdout.write(f"\nIn short\n\n{short}\n\n{_NO_TIME_LEFT}\n")
        return
    from ringset.analysis.assumptions.effects import rank_assumptions
    from ringset.reporting.assumptions_text import decides_text

    seconds = min(extra_seconds(study), left)
    found = rank_assumptions(study, solved.answer, seconds, helper, solved.inside)
    sys.stdout.write(f"\nIn short\n\n{short}\n\n{decides_text(found)}\n")
    sys.stdout.flush()


def print_band(study: Study, answer: Answer) -> None:
    """Print the band around an answer that has been printed already."""
    from ringset.analysis.assumptions.band import find_band
    from ringset.reporting.assumptions_text import band_text

    sys.stdout.write("\n" + band_text(find_band(study, answer)))
    sys.stdout.flush()
