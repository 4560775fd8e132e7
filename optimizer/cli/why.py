"""The command that says why a study is impossible, or what its limits cost."""

from __future__ import annotations

import argparse
import signal
import sys
from pathlib import Path

from ringset.cli.files import (
    read_study,
    refuse_file_ending,
    refuse_option_clashes,
    refuse_plot_without_matplotlib,
    write_whole,
)
from ringset.errors import ANSWERED, UNDECIDED, Refused


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `why`."""
    why = commands.add_parser(
        "why",
        help="say which limits collide and what would free them, or what they cost",
        description="For an impossible study: which limits cannot hold together, and the least changes "
        "that free it. For a possible one: what each limit costs, and how far inputs may drift.",
    )
    why.add_argument("study", metavar="STUDY", help="study, a JSON file; - reads standard input")
    why.add_argument(
        "--fixed",
        metavar="PATH",
        action="append",
        default=[],
        help="a limit that must not change, such as joints.wrist.tip_max_mm; may be repeated",
    )
    why.add_argument(
        "--step",
        metavar="PERCENT",
        type=float,
        default=5.0,
        help="by how much limits are loosened and tightened for their prices (5)",
    )
    why.add_argument(
        "--json", metavar="FILE", help="write everything as JSON; - prints it instead of the text"
    )
    why.add_argument("--plot", metavar="FILE.svg", help="draw the prices of limits (extra plot)")
    why.set_defaults(run=_why)


def _why(options: argparse.Namespace) -> int:
    # an interrupt ends the process at once: files are only ever written whole
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    refuse_option_clashes(STUDY=options.study, json=options.json, plot=options.plot)
    if options.plot is not None:
        if options.plot in ("", "-"):
            raise Refused(f"--plot: given {options.plot!r}; allowed: a file name")
        refuse_file_ending("--plot", options.plot, ".svg")
        refuse_plot_without_matplotlib()
    study = read_study(options.study)
    from ringset.analysis.explanation.explain import STEP_LEAST, STEP_MOST, explain_study
    from ringset.errors import StudyError

    if not 100.0 * STEP_LEAST <= options.step <= 100.0 * STEP_MOST:
        allowed = f"{100.0 * STEP_LEAST:g} to {100.0 * STEP_MOST:g}"
        raise Refused(f"--step: given {options.step:g}; allowed: {allowed}")
    try:
        explanation = explain_study(study, options.fixed, options.step / 100.0)
    except StudyError as error:
        raise Refused(str(error)) from None
    from ringset.reporting.explanation_text import explanation_text, report_prices_plot

    if options.json and options.json != "-":
        write_whole(Path(options.json), explanation.to_json())
    if options.plot and not explanation.prices:
        print("no picture written: only a possible study has prices", file=sys.stderr)
    elif options.plot:
        write_whole(Path(options.plot), report_prices_plot(explanation))
    text = explanation.to_json() if options.json == "-" else explanation_text(explanation)
    sys.stdout.write(text)
    is_open = explanation.status == "undecided" or explanation.open
    return UNDECIDED if is_open else ANSWERED
