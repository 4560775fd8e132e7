"""The command that finds every best answer."""

from __future__ import annotations

import argparse
import json
import signal
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from ringset.cli.files import (
    read_study,
    refuse_file_ending,
    refuse_folder_that_is_there,
    refuse_option_clashes,
    refuse_plot_without_matplotlib,
    write_new_folder,
    write_whole,
)
from ringset.errors import ANSWERED, IMPOSSIBLE, UNDECIDED, Refused

if TYPE_CHECKING:
    from ringset.analysis.front.axes import Step
    from ringset.analysis.front.models import Front
    from ringset.schema.answer import Answer
    from ringset.schema.study import Study, Wish


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the command `front`."""
    front = commands.add_parser(
        "front",
        help="find every answer that no other beats, and what each step costs",
        description="Every answer that no other beats on the wishes. The status of each says whether it is "
        "proven best in its cell or agreed on by the search engines. An interrupt keeps the points found so "
        "far and says what is open.",
    )
    front.add_argument("study", metavar="STUDY", help="study, a JSON file; - reads standard input")
    front.add_argument(
        "--over",
        metavar="WISHES",
        help="two or more of cutters, ring_parts, heads, material, cost, with commas (the study's wishes)",
    )
    front.add_argument(
        "--targets",
        metavar="ARCSEC",
        help="angle targets to sweep, with commas, such as 40,60,80,120 (the study's)",
    )
    front.add_argument(
        "--step",
        metavar="PERCENT",
        help="over both material and cost: by how many percent material comes down at a time (5), or "
        "exact for every point",
    )
    front.add_argument("--json", metavar="FILE", help="write the front as JSON; - prints it")
    front.add_argument("--csv", metavar="FILE.csv", help="write one line per point as CSV")
    front.add_argument("--plot", metavar="FILE.svg", help="draw the front (extra plot)")
    front.add_argument(
        "--across",
        metavar="WISH",
        help="what --plot has on its axis across: cutters, ring_parts, heads, material or cost (material "
        "beside cost, else ring_parts)",
    )
    front.add_argument(
        "--answers",
        metavar="DIR",
        help="write study and answer of every point into a new directory, for judge and compare",
    )
    front.set_defaults(run=_front)


def _front(options: argparse.Namespace) -> int:
    refuse_option_clashes(
        STUDY=options.study, json=options.json, csv=options.csv, plot=options.plot,
        answers=options.answers,
    )  # fmt: skip
    for option in ("csv", "plot"):
        if getattr(options, option) in ("-", ""):
            raise Refused(f"--{option}: given {getattr(options, option)!r}; allowed: a name")
    refuse_file_ending("--csv", options.csv, ".csv")
    refuse_file_ending("--plot", options.plot, ".svg")
    refuse_folder_that_is_there("--answers", options.answers)
    _refuse_across(options)
    if options.plot:
        refuse_plot_without_matplotlib()
    over, targets, step = _wishes(options.over), _numbers(options.targets), _step(options.step)
    study = read_study(options.study)
    _refuse_amount_without_prices(options, study)
    from ringset.analysis.front.front import find_front
    from ringset.errors import StudyError

    try:
        with _Interrupt() as asked:
            found = find_front(study, over, targets, _tell, asked, step, options.begun)
    except StudyError as error:
        raise Refused(str(error)) from None
    _write(options, found)
    from ringset.reporting.front_text import front_text

    sys.stdout.write(found.to_json() if options.json == "-" else front_text(found))
    if found.points:
        return ANSWERED if found.complete else UNDECIDED
    return UNDECIDED if found.open else IMPOSSIBLE


class _Interrupt:
    """Says whether an interrupt asked for the end while it is in force; a second one ends at once."""

    def __init__(self) -> None:
        self.asked = False

    def __enter__(self) -> _Interrupt:
        self.before = signal.signal(signal.SIGINT, self._ask)
        return self

    def __exit__(self, *_: object) -> None:
        signal.signal(signal.SIGINT, self.before)

    def _ask(self, *_: object) -> None:
        self.asked = True
        signal.signal(signal.SIGINT, signal.SIG_DFL)

    def __call__(self) -> bool:
        return self.asked


def _tell(answer: Answer) -> None:
    """Tell a point as soon as it is final."""
    if answer.totals is not None and sys.stderr.isatty():
        from ringset.reporting.pieces_text import pieces_text

        totals = answer.totals
        print(
            f"{answer.status}: {pieces_text(totals)}, {totals.heads} heads, "
            f"{totals.material_kg:.4g} kg",
            file=sys.stderr,
        )


def _write(options: argparse.Namespace, found: Front) -> None:
    from ringset.reporting.front_text import front_csv, report_front_plot

    if options.json and options.json != "-":
        write_whole(Path(options.json), found.to_json())
    if options.csv:
        write_whole(Path(options.csv), front_csv(found))
    if options.plot:
        write_whole(
            Path(options.plot), report_front_plot(found, options.across or _default_across(found))
        )
    if options.answers:
        _write_answers(Path(options.answers), found)


def _write_answers(place: Path, found: Front) -> None:
    """Write every point's study and answer into a new directory, all or nothing."""
    texts: dict[str, str] = {}
    for number, point in enumerate(found.points, start=1):
        texts[f"point {number} study.json"] = json.dumps(point.study, indent=2) + "\n"
        texts[f"point {number} answer.json"] = point.answer.to_json()
    write_new_folder(place, texts)


def _wishes(text: str | None) -> list[Wish] | None:
    if text is None:
        return None
    from ringset.schema.study import WISHES

    given = [part.strip() for part in text.split(",")]
    for wish in given:
        if wish not in WISHES:
            raise Refused(f"--over: given {wish!r}; allowed: {', '.join(WISHES)}")
    return given  # type: ignore[return-value]


def _default_across(found: Front) -> Wish:
    """Return what a picture has across unless it is said: material beside cost, else ring parts."""
    return "material" if {"material", "cost"} <= set(found.over) else "ring_parts"


def _refuse_across(options: argparse.Namespace) -> None:
    """Refuse an axis of a picture that nobody asked for, or that is no wish."""
    from ringset.schema.study import WISHES

    if options.across is not None and options.across not in WISHES:
        raise Refused(f"--across: given {options.across!r}; allowed: {', '.join(WISHES)}")
    if options.across is not None and not options.plot:
        raise Refused(f"--across: given {options.across} without --plot; allowed: with --plot")


def _refuse_amount_without_prices(options: argparse.Namespace, study: Study) -> None:
    if options.across in ("material", "cost") and study.shop.prices is None:
        raise Refused(
            f"--across: given {options.across} without shop.prices; allowed: cutters, ring_parts, heads"
        )


def _step(text: str | None) -> Step | None:
    if text is None or text == "exact":
        return text  # type: ignore[return-value]
    try:
        return float(text)
    except ValueError:
        raise Refused(f"--step: given {text!r}; allowed: a number of percent, or exact") from None


def _numbers(text: str | None) -> list[float] | None:
    if text is None:
        return None
    try:
        return [float(part) for part in text.split(",")]
    except ValueError:
        raise Refused(f"--targets: given {text!r}; allowed: numbers with commas") from None
