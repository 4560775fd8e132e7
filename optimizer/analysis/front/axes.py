"""The axes of a front: which wish is minimised, which act as ceilings, and in what steps these come down."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from ringset.errors import Fault
from ringset.schema.study import Study, Wish

COUNTED: tuple[Wish, ...] = ("cutters", "ring_parts", "heads")
#: Material beside cost comes down by so many percent at a time where nothing is stated. A round number:
#: finer differences decide nothing in a sizing, and exact fronts of two amounts may have thousands of points.
STEP_PERCENT = 5.0
#: Largest step in percent: with more, hardly anything would be told.
STEP_MOST_PERCENT = 50.0
#: Percent, or every answer.
Step = float | Literal["exact"]


@dataclass(frozen=True)
class Axes:
    """What a front is about: its wishes, the one that is minimised in every cell, and the step.

    `step_percent` is that of the amount among the ceilings, 0 where every answer is told; None where no
    amount is among them.
    """

    over: tuple[Wish, ...]
    step_percent: float | None

    @property
    def minimised(self) -> Wish:
        """Cost if it is among the wishes, else material, else the last count.

        Money is counted less finely than mass, and a ceiling is the truer the finer it is counted.
        """
        return next((wish for wish in ("cost", "material") if wish in self.over), self.over[-1])

    @property
    def ceilings(self) -> list[Wish]:
        """The other wishes, an amount last: for every set of counts it comes down by itself."""
        others = [wish for wish in self.over if wish != self.minimised]
        return sorted(others, key=lambda wish: wish not in COUNTED)

    def next_ceiling(self, wish: Wish, value: int) -> int:
        """Return the ceiling after an answer that comes to `value` of a wish (whole units, 0 or more)."""
        if wish in COUNTED or not self.step_percent:
            return value - 1
        return min(value - 1, int(value * (1.0 - self.step_percent / 100.0)))


def front_axes(study: Study, over: Sequence[Wish] | None, step: Step | None) -> Axes:
    """Return the axes asked for, those of the study by default; they have no faults."""
    axes = tuple(over or study.wishes.order)
    if not _two_amounts(axes):
        return Axes(axes, None)
    return Axes(axes, 0.0 if step == "exact" else STEP_PERCENT if step is None else step)


def front_faults(
    study: Study, over: Sequence[Wish] | None = None, targets_arcsec: Sequence[float] | None = None,
    step: Step | None = None,
) -> list[Fault]:  # fmt: skip
    """Return what is wrong with the axes, angle targets and step (in percent) of a front of a study."""
    return list(_faults(study, over, targets_arcsec, step))


def _faults(
    study: Study, over: Sequence[Wish] | None, targets: Sequence[float] | None, step: Step | None
) -> Iterator[Fault]:
    axes = over or study.wishes.order
    if over is not None and (len(over) < 2 or len(set(over)) < len(over)):
        yield Fault("over", ", ".join(over) or "nothing", "two or more different wishes")
    if "cost" in axes and study.shop.prices is None:
        yield Fault("over", "cost without shop.prices", "cost with shop.prices")
    for target in targets or []:
        if not 0.0 < target <= 648000.0:
            yield Fault("targets", f"{target:g}", "more than 0, at most 648000 arcsec")
    if step is None:
        return
    allowed = f"more than 0, at most {STEP_MOST_PERCENT:g} percent, or exact"
    if step != "exact" and not 0.0 < step <= STEP_MOST_PERCENT:
        yield Fault("step", f"{step:g}", allowed)
    elif not _two_amounts(axes):
        given = f"{step if step == 'exact' else format(step, 'g')} over {', '.join(axes)}"
        yield Fault("step", given, "a step where both material and cost are among the wishes")


def _two_amounts(over: Sequence[Wish]) -> bool:
    return "material" in over and "cost" in over
