"""For people: simulated yield and the agreement of budget and simulation as text and as a picture."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from ringset.analysis.simulation.budget_agreement import Agreement
from ringset.analysis.simulation.cases import Case
from ringset.analysis.simulation.monte_carlo import (
    BLOCK,
    Draw,
    JointYield,
    RobotYield,
    Spread,
    simulated_turns,
)
from ringset.analysis.simulation.pairs import PairYield
from ringset.physics import simulated_signal
from ringset.reporting.plots import report_plot_as_svg, report_subplots
from ringset.wording import (
    TERM_WORDS,
    wording_of_coverage,
    wording_of_readings,
    wording_table,
    wording_wrapped,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

SPREADS = {
    "even": "tolerances even between nothing and their limit",
    "full": "every tolerance at its limit, phases random",
}


def printed_wilson_interval(within: int, turns: int) -> tuple[float, float]:
    """Return the 95 % confidence interval of a share (E. B. Wilson, Journal of the American
    Statistical Association 22, 209, 1927, from memory)."""
    z, p = 1.959964, within / turns
    middle = (p + z * z / (2 * turns)) / (1.0 + z * z / turns)
    half = z / (1.0 + z * z / turns) * np.sqrt(p * (1 - p) / turns + z * z / (4 * turns**2))
    low = 0.0 if within == 0 else float(middle - half)
    return low, 1.0 if within == turns else float(middle + half)


def yield_text(
    joints: Sequence[JointYield],
    robots: Sequence[RobotYield],
    turns: int,
    seed: int,
    spread: Spread,
    pairs: Sequence[PairYield] = (),
) -> str:
    """Return the simulated yield of every joint and robot as text, and of every pair of rings."""
    k = wording_of_coverage(y.case.ring for y in joints)
    heads = (
        "joint", "heads", "mean", "19 of 20", "largest", f"budget k={k:g}", "worst case", "target",
        "within target", "95 % confidence",
    )  # fmt: skip
    rows = []
    for y in joints:
        half, ring = y.half_range_arcsec, y.case.ring
        rows.append(
            (
                ring.label, str(ring.heads), f"{half.mean():.1f}", f"{np.quantile(half, 0.95):.1f}",
                f"{half.max():.1f}", f"{ring.budget.expanded_arcsec:.1f}",
                f"{ring.budget.worst_case_arcsec:.1f}", f"{ring.target_arcsec:g}",
                _share(y.within, turns), _interval(y.within, turns),
            )
        )  # fmt: skip
    lines = [
        f"Simulated yield: {turns} turns of every joint, {SPREADS[spread]}; seed {seed}",
        "Half range of the error over a turn, arcsec. A turn is within its target where no reading of it",
        f"is beyond; the budget at k = {k:g} speaks of {wording_of_readings(k)}, which is no yield.",
        *_spectrum_words([y.case for y in joints]),
        wording_table(heads, rows),
    ]
    for robot in robots:
        if robot.within is None:
            continue
        lines.append(
            f"  {robot.robot}: tool point at the worst pose, mean {robot.error_um.mean():.4g} um, "
            f"largest {robot.error_um.max():.4g} um, target {robot.target_um:g} um: "
            f"{_share(robot.within, turns)} within ({_interval(robot.within, turns)})"
        )
    lines += [_pair_words(pair, turns) for pair in pairs]
    return "\n".join(lines) + "\n"


def _pair_words(pair: PairYield, turns: int) -> str:
    """Return in how many turns a ring and its second one name every pitch, and how far they differ."""
    ring, second, off = pair.first.ring, pair.second.ring, pair.difference_arcsec
    return wording_wrapped(
        f"{ring.label}: {ring.teeth} and {second.teeth} teeth differ by at most {off.mean():.1f} arcsec a "
        f"turn in the mean and {off.max():.1f} in the largest, {pair.tolerance_arcsec:.1f} tolerated: "
        f"{_share(pair.within, turns)} name every pitch ({_interval(pair.within, turns)})",
        "  ",
    )


def _spectrum_words(cases: Sequence[Case]) -> list[str]:
    """Return what spectrum the pitch errors were drawn from, and that stated shares are not drawn."""
    if not cases:
        return []
    fall = f"1/p^{cases[0].pitch_exponent:g}"
    told = (
        f"Pitch errors are drawn with amplitudes that fall as {fall} with the order p per turn "
        " (shop.pitch_spectrum_exponent)."
    )
    stated = sorted({case.ring.heads for case in cases if case.pitch_share_stated})
    if stated:
        told += (
            f" The budget takes the share of the cumulative pitch that {', '.join(map(str, stated))} heads "
            "leave as it is stated (shop.pitch_share, shop.worst_pitch_share); the drawn rings follow the "
            "spectrum, whatever share it leaves."
        )
    return wording_wrapped(told, "").split("\n")


def _share(within: int, turns: int) -> str:
    return f"{100.0 * within / turns:.2f} %"


def _interval(within: int, turns: int) -> str:
    low, high = printed_wilson_interval(within, turns)
    return f"{100.0 * low:.2f} to {100.0 * high:.2f} %"


def agreement_text(case: Case, rows: Sequence[Agreement]) -> str:
    """Return the table of every term of one ring's budget beside its own simulation."""
    heads = ("term", "compared", "budget", "simulated", "ratio", "should be", "holds")
    lines = [
        (
            TERM_WORDS[row.term], row.measure, f"{row.budget_arcsec:.4f}",
            f"{row.simulated_arcsec:.4f}", f"{row.ratio:.4f}",
            f"at most {1.0 + row.tolerance:g}" if row.bound else f"1 within {row.tolerance:g}",
            "yes" if row.holds else "NO",
        )
        for row in rows
    ]  # fmt: skip
    r = case.ring
    title = (
        f"Budget and simulation of {r.label} (module {r.module_mm:g}, {r.teeth} teeth, "
        f"{r.heads} head{'s' if r.heads > 1 else ''}), one term at a time, arcsec"
    )
    return "\n".join([title, wording_table(heads, lines), *_spectrum_words([case])]) + "\n"


def report_yield_plot(chosen: JointYield, seed: int, spread: Spread) -> str:
    """Return an SVG of one joint: error curves of a few turns, their spectrum, the distribution.

    Needs matplotlib (extra `plot`). Equal inputs give equal bytes.
    """
    rng = np.random.Generator(np.random.SFC64(seed))
    curves = simulated_turns(Draw(chosen.case, BLOCK, rng, spread))
    curves = curves - curves.mean(axis=1, keepdims=True)
    figure, (top, middle, bottom) = report_subplots(3, 1, figsize=(8.0, 10.0))
    _curves(top, chosen, curves)
    _spectrum(middle, chosen, curves)
    _distribution(bottom, chosen)
    figure.suptitle(
        f"{chosen.case.ring.label}, simulated; seed {seed}, {SPREADS[spread]}", fontsize=10
    )
    return report_plot_as_svg(figure)


def _curves(axes: Axes, chosen: JointYield, curves: np.ndarray) -> None:
    angle = np.arange(curves.shape[1]) * 360.0 / curves.shape[1]
    for number, curve in enumerate(curves[:3], start=1):
        axes.plot(angle, curve, linewidth=0.7, label=f"turn {number}")
    expanded = chosen.case.ring.budget.expanded_arcsec
    for side in (-expanded, expanded):
        axes.axhline(side, color="black", linestyle=":", linewidth=1.0)
    axes.text(
        2.0,
        expanded,
        f"budget, k = {wording_of_coverage([chosen.case.ring]):g}",
        va="bottom",
        fontsize=8,
    )
    axes.set(xlabel="joint angle (degrees)", ylabel="error (arcsec)", xlim=(0.0, 360.0))
    axes.margins(y=0.15)
    axes.legend(loc="lower right", fontsize=8, ncols=3)


def _spectrum(axes: Axes, chosen: JointYield, curves: np.ndarray) -> None:
    amplitude = np.sqrt(np.mean(simulated_signal.error_curve_spectrum(curves) ** 2, axis=0))
    orders = np.arange(1, min(len(amplitude), 5 * chosen.case.ring.teeth))
    axes.vlines(orders, 1e-3, amplitude[orders], linewidth=0.8)
    for times in (1, 2, 4):
        order = times * chosen.case.ring.teeth
        if order < len(amplitude):
            text = "z" if times == 1 else f"{times} z"
            axes.annotate(text, (order, amplitude[order]), ha="center", va="bottom", fontsize=8)
    axes.set(
        xlabel="order per turn", ylabel="amplitude (arcsec, rms of turns)", xscale="log",
        yscale="log", ylim=(1e-3, 3.0 * float(amplitude[1:].max())),
    )  # fmt: skip


def _distribution(axes: Axes, chosen: JointYield) -> None:
    ring = chosen.case.ring
    axes.hist(chosen.half_range_arcsec, bins=60, color="0.7", edgecolor="0.4", linewidth=0.3)
    top = axes.get_ylim()[1]
    marks = (
        (ring.budget.expanded_arcsec, f"budget, k = {wording_of_coverage([ring]):g}", ":", 0.98),
        (ring.budget.worst_case_arcsec, "worst case", "--", 0.88),
        (ring.target_arcsec, "target", "-", 0.78),
    )
    for value, text, style, height in marks:
        axes.axvline(value, color="black", linestyle=style, linewidth=1.0)
        axes.text(value, top * height, f" {text}", va="top", fontsize=8)
    axes.set(xlabel="half range of the error over a turn (arcsec)", ylabel="turns")
    axes.set_xlim(0.0, 1.2 * max(value for value, *_ in marks))
