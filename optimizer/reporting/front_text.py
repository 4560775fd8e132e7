"""A front for people: a table with what every step buys, a CSV, and a picture."""

from __future__ import annotations

import csv
from collections.abc import Callable
from io import StringIO
from typing import TYPE_CHECKING

from ringset.analysis.front.axes import COUNTED
from ringset.analysis.front.models import Front, Point
from ringset.reporting.pieces_text import counted_note
from ringset.reporting.plots import report_plot_as_svg, report_subplots
from ringset.schema.answer import Answer, ToolPoint, Wish
from ringset.wording import count, wording_bullets, wording_table, wording_wrapped

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_MARKS = "osD^vP*X"
#: Axes of the picture, in words.
_AXES: dict[Wish, str] = {
    "cutters": "cutters", "ring_parts": "ring parts", "heads": "heads",
    "material": "material, kg of blanks", "cost": "cost",
}  # fmt: skip


def front_text(front: Front) -> str:
    """Return the front as text: one line per point, and what each step changes."""
    blocks = [front.title or "Front", _verdict(front)]
    blocks += [wording_wrapped(f"{note}.", "") for note in front.notes]
    if front.points:
        heads = ["point", *_heads(front)]
        rows = [[str(n), *_cells(front, p)] for n, p in enumerate(front.points, start=1)]
        blocks.append("\n".join(["Points", wording_table(heads, rows)]))
        totals = front.points[0].answer.totals
        note = None if totals is None else counted_note(totals.counted)
        blocks += [] if note is None else [wording_wrapped(note, "")]
        if len(front.points) > 1:
            steps = [
                f"{n - 1} to {n}: {point.step}" for n, point in enumerate(front.points[1:], start=2)
            ]
            blocks.append(wording_bullets("What each step changes", steps))
    if front.impossible:
        blocks.append(wording_bullets("Impossible", front.impossible))
    if front.open:
        blocks.append(wording_bullets("Open", front.open))
    if front.points:
        blocks.append(wording_bullets("Cautions", front.points[0].answer.cautions))
    return "\n\n".join(blocks) + "\n"


def _verdict(front: Front) -> str:
    axes = " x ".join(wish.replace("_", " ") for wish in front.over)
    found = f"{count(len(front.points), 'answer')} over {axes}"
    if not front.points:
        return f"No answer over {axes}{'' if front.complete else ' found; see what is open'}."
    if front.complete:
        searched = sum(cell.wish == front.minimised for cell in front.cells)
        if front.step_percent:
            text = f"{found}. {_sure(front)}. Material came down in steps of "
            text += f"{front.step_percent:g} % (`--step`; `--step exact` tells every point): for every other "
            text += "answer there is a point that comes to no more in any other wish, and to less than one "
            return wording_wrapped(f"{text}step more in material.", "")
        return wording_wrapped(
            f"{found}. {_sure(front)}; no point is missing, as the search engines agree: "
            f"{count(searched, 'set')} of ceilings searched; every other set holds one of these "
            "answers, or none at all.",
            "",
        )
    return wording_wrapped(f"{found}. {_sure(front)}. Not complete: see what is open.", "")


def _sure(front: Front) -> str:
    """Return how sure it is that every point is the best of its cell."""
    proven = sum(point.answer.status == "proven" for point in front.points)
    if proven == len(front.points):
        return "Each is proven best in its cell"
    if not proven:
        return "None of them is proven best in its cell; the search engines agree on each"
    said = f"{proven} of them {'is' if proven == 1 else 'are'} proven best"
    return f"{said}; on the others the search engines agree"


def _heads(front: Front) -> list[str]:
    first = front.points[0].answer
    several = len(front.targets_arcsec) > 1
    robots = [point.robot for point in first.tool_points if _told(point)]
    return [
        *(["targets arcsec"] if several else []),
        "cutters", "ring parts", "heads", "material kg",
        *(["cost"] if first.totals and first.totals.cost else []),
        *(f"{robot} um" for robot in robots),
        "largest error arcsec",
        *(f"{robot} repeats um" for robot in robots),
        "largest repeatability arcsec", "status",
    ]  # fmt: skip


def _cells(front: Front, point: Point) -> list[str]:
    answer = point.answer
    assert answer.totals is not None
    several = len(front.targets_arcsec) > 1
    targets = [f"{t:g}" for t in point.targets_arcsec]
    span = targets[0] if len(targets) == 1 else f"{targets[0]} down to {targets[-1]}"
    return [
        *([span] if several else []),
        str(answer.totals.cutters),
        str(answer.totals.ring_parts),
        str(answer.totals.heads),
        f"{answer.totals.material_kg:.4g}",
        *([f"{answer.totals.cost.total:.2f}"] if answer.totals.cost else []),
        *(f"{p.error_um:.1f}" for p in answer.tool_points if _told(p)),
        f"{_largest(answer):.1f}",
        *(f"{p.repeatability_um:.1f}" for p in answer.tool_points if _told(p)),
        f"{_most_scatter(answer):.1f}",
        answer.status,
    ]


def _told(point: ToolPoint) -> bool:
    """Say whether a tool point is worth a column: some joint of its robot has a reach."""
    targets = (point.target_um, point.repeatability_target_um)
    return point.error_um > 0.0 or any(target is not None for target in targets)


def _largest(answer: Answer) -> float:
    return max(ring.error_arcsec for ring in answer.rings)


def _most_scatter(answer: Answer) -> float:
    """Return the largest repeatability of its joints, in arcsec."""
    return max(ring.repeatability_arcsec for ring in answer.rings)


def front_csv(front: Front) -> str:
    """Return one line per point with unrounded numbers."""
    text = StringIO()
    writer = csv.writer(text, lineterminator="\n")
    robots = [p.robot for p in front.points[0].answer.tool_points] if front.points else []
    writer.writerow(
        [
            "point",
            "loosest_target_arcsec",
            "tightest_target_arcsec",
            "cutters",
            "ring_parts",
            "heads",
        ]
        + ["material_kg", "cost", "largest_error_arcsec", "status"]
        + [f"tool_point_um {robot}" for robot in robots]
        + ["step", "largest_repeatability_arcsec"]
        + [f"tool_point_repeatability_um {robot}" for robot in robots]
    )
    for number, point in enumerate(front.points, start=1):
        totals, answer = point.answer.totals, point.answer
        assert totals is not None
        writer.writerow(
            [number, point.targets_arcsec[0], point.targets_arcsec[-1], totals.cutters]
            + [totals.ring_parts, totals.heads, totals.material_kg]
            + [totals.cost.total if totals.cost else None, _largest(answer), answer.status]
            + [p.error_um for p in answer.tool_points]
            + [point.step, _most_scatter(answer)]
            + [p.repeatability_um for p in answer.tool_points]
        )
    return text.getvalue()


def report_front_plot(front: Front, across: Wish = "ring_parts") -> str:
    """Return an SVG picture of what every point comes to, a mark per cutter count.

    Its left half has money, or else material, over `across` (material, where that is cost), the right half
    over the error. Needs matplotlib (extra `plot`). Raises ValueError where points that have no money would
    stand material over material, or over money. Equal fronts give equal bytes.
    """
    up = _upward(front, across)
    figure, (left, right) = report_subplots(1, 2, figsize=(11.0, 5.0))
    _scatter(left, front, _AXES[across], lambda a: _total(a, across), up)
    if across in COUNTED:
        left.xaxis.get_major_locator().set_params(integer=True, min_n_ticks=1)
    tool = bool(front.points) and any(
        p.target_um is not None for p in front.points[0].answer.tool_points
    )
    words = "largest tool-point error, um" if tool else "largest joint error, arcsec"
    _scatter(right, front, words, _tool_point if tool else _largest, _upward(front))
    figure.suptitle(front.title or "Front", fontsize=10)
    if front.points:
        left.legend(loc="best", fontsize=8)
    return report_plot_as_svg(figure)


def _upward(front: Front, across: Wish = "ring_parts") -> Wish:
    """Return the amount that a picture has upwards: money where that is minimised, never that across."""
    money = bool(front.points) and all(
        p.answer.totals and p.answer.totals.cost for p in front.points
    )
    if across in ("material", "cost") and front.points and not money:
        raise ValueError(f"across: given {across} without prices, allowed a count")
    if across == "material" or (front.minimised == "cost" and across != "cost"):
        return "cost" if money else "material"
    return "material"


def _total(answer: Answer, wish: Wish) -> float:
    """Return what an answer comes to in a wish: pieces, kg of blanks, or money."""
    assert answer.totals is not None
    return answer.totals.by_wish()[wish]


def _tool_point(answer: Answer) -> float:
    return max(point.error_um for point in answer.tool_points)


def _labels(places: list[tuple[float, float]]) -> list[tuple[tuple[float, float], str]]:
    """Return the numbers to write where points stand; those nearly on each other share a label."""
    spans = [max(p[i] for p in places) - min(p[i] for p in places) or 1.0 for i in (0, 1)]
    groups: list[tuple[tuple[float, float], list[int]]] = []
    for number, place in enumerate(places, start=1):
        for first, members in groups:
            if all(abs(place[i] - first[i]) < 0.035 * spans[i] for i in (0, 1)):
                members.append(number)
                break
        else:
            groups.append((place, [number]))
    return [(place, ", ".join(map(str, members))) for place, members in groups]


def _scatter(
    axes: Axes, front: Front, words: str, across: Callable[[Answer], float], up: Wish
) -> None:
    """Draw every point with its number; the mark tells the cutters, the size the heads."""
    answers = [point.answer for point in front.points]
    if not answers:
        axes.text(0.5, 0.5, "no answer", ha="center")
        return
    used = sorted({a.totals.cutters for a in answers if a.totals})
    fewest = min((a.totals.heads for a in answers if a.totals), default=1)
    for turn, cutters in enumerate(used):
        mine = [
            (n, a)
            for n, a in enumerate(answers, start=1)
            if a.totals and a.totals.cutters == cutters
        ]
        axes.scatter(
            [across(a) for _, a in mine],
            [_total(a, up) for _, a in mine],
            s=[30.0 * a.totals.heads / fewest for _, a in mine if a.totals],
            marker=_MARKS[turn % len(_MARKS)], facecolors="none", edgecolors="black",
            label=count(cutters, "cutter"),
        )  # fmt: skip
    size = 8 if len(answers) <= 20 else 6
    for place, numbers in _labels([(across(a), _total(a, up)) for a in answers]):
        axes.annotate(
            numbers, place, xytext=(6, 3), textcoords="offset points", fontsize=size, clip_on=False
        )
    axes.margins(x=0.12)
    axes.set_xlabel(words)
    axes.set_ylabel(_AXES[up])
    axes.grid(visible=True, linewidth=0.3)
