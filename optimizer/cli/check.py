"""The commands that check rings without any solver: rate, judge, simulate."""

from __future__ import annotations

import argparse
import math
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from ringset.cli.files import (
    read_answer,
    read_certificate_file,
    read_previous,
    read_study,
    refuse_file_ending,
    refuse_option_clashes,
    refuse_plot_without_matplotlib,
    write_whole,
)
from ringset.errors import ANSWERED, BROKEN, UNDECIDED, Refused
from ringset.reporting.progress import TurnsProgress

if TYPE_CHECKING:
    from ringset.schema.answer import Answer
    from ringset.schema.study import Study


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the commands `rate`, `judge` and `simulate`."""
    rate = commands.add_parser(
        "rate",
        help="rate one ring you have in mind on one joint",
        description="Rate one ring on one joint: hand calculation, error budget, margins.",
    )
    rate.add_argument("study", metavar="STUDY", help="study, a JSON file; - reads standard input")
    rate.add_argument("--robot", help="robot, where joints of several robots share a name")
    rate.add_argument("--joint", required=True, help="joint")
    rate.add_argument(
        "--module", type=_module, required=True, metavar="MM", help='module, or "16 DP"'
    )
    toothing = rate.add_mutually_exclusive_group(required=True)
    toothing.add_argument("--teeth", type=int, metavar="N", help="tooth count")
    toothing.add_argument("--tip", type=_length, metavar="MM", help="or largest tip diameter")
    hole = rate.add_mutually_exclusive_group(required=True)
    hole.add_argument("--bore", type=_length, metavar="MM", help='bore, or "2.5 in"')
    hole.add_argument("--rim", type=_length, metavar="MM", help="or rim between root and bore")
    rate.add_argument("--heads", type=int, metavar="N", help="number of heads (the joint's fewest)")
    rate.add_argument(
        "--second-teeth", type=int, metavar="N",
        help="teeth of the second ring where the joint asks one (the fewest that keep all limits)",
    )  # fmt: skip
    rate.set_defaults(run=_rate)

    judge = commands.add_parser(
        "judge",
        help="check an answer against a study without any solver",
        description="Recompute every limit and total of an answer and name every violation.",
    )
    judge.add_argument("study", metavar="STUDY", help="study, a JSON file")
    judge.add_argument("answer", metavar="ANSWER", help="answer, a JSON file")
    judge.add_argument(
        "--certificate",
        metavar="FILE",
        help="check the proof of the answer's bounds as well, without any solver",
    )
    judge.add_argument(
        "--previous",
        metavar="ANSWER",
        help="the earlier answer whose names of ring parts it must keep",
    )
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


def _length(text: str) -> float:
    """Return a length in mm: a number of them, or text with its unit."""
    return _number_or_text("length_mm", text)


def _module(text: str) -> float:
    """Return a module in mm: a number of them, or the pitch of a cutter."""
    return _number_or_text("module_mm", text)


def _number_or_text(field: str, text: str) -> float:
    """Return the number that a text of an option means for a field of that name."""
    from ringset.schema.length_texts import length_field_allowed, length_field_value

    try:
        return float(text)
    except ValueError:
        pass
    try:
        return length_field_value(field, text.strip())
    except ValueError as error:
        raise argparse.ArgumentTypeError(
            f"given {text!r}; allowed: {length_field_allowed(field)} ({error})"
        ) from None


def _rate(options: argparse.Namespace) -> int:
    study = read_study(options.study)
    from ringset.analysis.alternatives.single_ring import (
        bore_for_rim,
        find_joint,
        rate_one,
        teeth_for_tip,
    )
    from ringset.errors import StudyError
    from ringset.reporting.answer_text import ring_text

    for name, least, most in (("module", 0.05, 50.0), ("tip", 1.0, 5e3), ("rim", 0.0, 5e3)):
        value = getattr(options, name)
        if value is not None and not least <= value <= most:
            raise Refused(f"--{name}: given {value:g}; allowed: {least:g} to {most:g} mm")
    if options.bore is not None and not math.isfinite(options.bore):
        raise Refused(f"--bore: given {options.bore:g}; allowed: a finite number of mm")
    try:
        robot, joint = find_joint(study, options.joint, options.robot)
        teeth = options.teeth
        if teeth is None:
            teeth = teeth_for_tip(study, options.module, options.tip)
        bore = options.bore
        if bore is None:
            bore = bore_for_rim(study, options.module, teeth, options.rim)
        heads = options.heads if options.heads is not None else min(joint.head_counts)
        second = options.second_teeth or 0
        if options.second_teeth is not None and not (joint.second_ring and second > 0):
            asks = "1 or more" if joint.second_ring else "none, for the joint asks no second_ring"
            raise Refused(f"--second-teeth: given {options.second_teeth}; allowed: {asks}")
        ring, faults = rate_one(study, robot, joint, options.module, teeth, bore, heads, second)
    except StudyError as error:
        raise Refused(str(error)) from None
    sys.stdout.write(ring_text(ring, faults, study.target.basis))
    return ANSWERED


def _judge(options: argparse.Namespace) -> int:
    study = read_study(options.study)
    answer = read_answer(options.answer)
    previous = None if options.previous is None else read_previous(options.previous)
    from ringset.verification.judge.judge import judge

    violations = judge(study, answer, previous)
    for violation in violations:
        print(violation)
    if not violations:
        print(f"No violation found. The answer states: {answer.status}.")
        if not answer.rings:
            print("That is the search's finding; a judge without a solver cannot repeat it.")
        if previous is not None:
            print(
                "Ring parts that the earlier answer has keep their names, and no number is used again."
            )
        elif answer.part_numbers is not None:
            print("That it keeps the names of an earlier answer is checked with --previous ANSWER.")
    if violations or options.certificate is None:
        return BROKEN if violations else ANSWERED
    return _verify(study, answer, options.certificate)


def _verify(study: Study, answer: Answer, path: str) -> int:
    """Check a certificate and tell what it shows of every stage."""
    certificate = read_certificate_file(path)
    from ringset.verification.certificate.verify import verify_certificate

    found = verify_certificate(study, answer, certificate)
    for fault in found.faults:
        print(f"certificate refused: {fault}")
    for stage in found.stages:
        print(f"{stage.wish.replace('_', ' ')}: {stage.state}; {stage.text}")
    if found.refused:
        return BROKEN
    return ANSWERED if found.complete else UNDECIDED


def _simulate(options: argparse.Namespace) -> int:
    for name, least, most in (("turns", 1, 1_000_000), ("seed", 0, 2**31 - 1)):
        if not least <= getattr(options, name) <= most:
            given = getattr(options, name)
            raise Refused(f"--{name}: given {given}; allowed: {least} to {most}")
    if options.plot is not None:
        if options.terms:
            raise Refused("--plot: given beside --terms; allowed: one of the two")
        if options.plot in ("", "-"):
            raise Refused(f"--plot: given {options.plot!r}; allowed: a file name")
        refuse_option_clashes(STUDY=options.study, ANSWER=options.answer, plot=options.plot)
        refuse_file_ending("--plot", options.plot, ".svg")
        refuse_plot_without_matplotlib()
        place = Path(options.plot).resolve().parent
        if not place.is_dir() or not os.access(place, os.W_OK):
            # told before the work, not after it
            raise Refused(f"--plot: given {options.plot}; allowed: a place that can be written")
    study = read_study(options.study)
    answer = read_answer(options.answer)
    from ringset.verification.judge.judge import judge

    violations = judge(study, answer)
    if violations or not answer.rings:
        text = "\n".join(violations) or "it holds no rings"
        raise Refused(f"{options.answer}: given an answer that cannot be simulated:\n{text}")
    from ringset.analysis.simulation.budget_agreement import simulated_agreements
    from ringset.analysis.simulation.cases import simulation_cases
    from ringset.analysis.simulation.monte_carlo import simulate_yield
    from ringset.analysis.simulation.pairs import simulate_pairs
    from ringset.reporting.simulation_text import agreement_text, report_yield_plot, yield_text

    labels = [ring.label for ring in answer.rings]
    wanted = options.joint if options.joint is not None else labels[0]
    if wanted not in labels:
        raise Refused(f"--joint: given {wanted!r}; allowed: {', '.join(labels)}")
    index = labels.index(wanted)
    if options.terms:
        case = simulation_cases(study, answer)[index]
        try:
            sys.stdout.write(agreement_text(case, simulated_agreements(case, options.seed)))
        except ValueError as error:
            raise Refused(f"{wanted}: cannot be simulated ({error})") from None
        return ANSWERED
    try:
        joints, robots = simulate_yield(
            study, answer, options.turns, options.seed, options.spread, progress=TurnsProgress()
        )
    except ValueError as error:
        raise Refused(f"{options.answer}: cannot be simulated ({error})") from None
    chosen = (options.turns, options.seed, options.spread)
    sys.stdout.write(yield_text(joints, robots, *chosen, simulate_pairs(study, answer, *chosen)))
    if options.plot:
        write_whole(
            Path(options.plot), report_yield_plot(joints[index], options.seed, options.spread)
        )
    return ANSWERED
