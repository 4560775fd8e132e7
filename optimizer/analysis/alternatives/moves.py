"""What is tried beside a ring that stands: other teeth, rims, heads, a part of its own, other parts.

A change is a list of trials of which the best is told: a tooth more may need another bore, one head fewer
a thicker rim. A change of a ring part that joints share is made on all of them.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ringset.analysis.alternatives.models import Ring, Trial
from ringset.analysis.alternatives.neighbourhood import Neighbourhood
from ringset.catalogue.limits import catalogue_bore_steps, catalogue_next_teeth
from ringset.catalogue.ring_sizes import RingSizes
from ringset.catalogue.windows import (
    catalogue_bore_window,
    catalogue_teeth_range,
    catalogue_tooth_window,
)
from ringset.rating.rate import rated_gaps_on_offer_mm

#: Rows that the bores of one change may come to, over all joints that share the part.
ROWS_OF_CHANGE = 600
#: Rows, times gaps, among which a part of its own is looked for.
ROWS_OF_OWN = 60_000


def alternative_ring_moves(near: Neighbourhood, place: int) -> list[list[Trial]]:
    """Return every change of the ring at `place`, each as the trials of which the best is told."""
    changes = [*_sizes_and_heads(near, place), *_own_part(near, place), *_other_parts(near, place)]
    sound = [[trial for trial in change if near.sound(trial)] for change in changes]
    return [change for change in sound if change]


def _sizes_and_heads(near: Neighbourhood, place: int) -> Iterator[list[Trial]]:
    """Yield the changes of size, rim and heads."""
    ring, ref = near.rings[place], near.refs[place]
    for kind, counts in _tooth_counts(near, place):
        yield [
            _together(near, place, kind, ring._replace(teeth=teeth, bore_steps=b))
            for teeth in counts
            for b in _bores(near, place, teeth)
        ]
    for kind, steps in _bore_steps(near, place):
        yield [_together(near, place, kind, ring._replace(bore_steps=steps))]
    counts = sorted(ref.joint.head_counts)
    fewer = max((count for count in counts if count < ring.heads), default=ring.heads - 1)
    more = min((count for count in counts if count > ring.heads), default=0)
    for kind, heads in (("fewer_heads", fewer), ("more_heads", more)):
        if heads:
            yield [
                _together(near, place, kind, ring._replace(bore_steps=b, heads=heads))
                for b in _bores(near, place, ring.teeth)
            ]


def _together(near: Neighbourhood, place: int, kind: str, ring: Ring) -> Trial:
    """Return a ring put on a joint and on all that share its part; the others keep their heads."""
    rings = {
        other: ring._replace(heads=near.rings[other].heads, second=near.rings[other].second)
        for other in near.sharing(place)
    }
    return Trial(kind, {place: ring, **{o: r for o, r in rings.items() if o != place}})


def _tooth_counts(near: Neighbourhood, place: int) -> Iterator[tuple[str, list[int]]]:
    """Yield a tooth or two more, as many as the tips of all joints that share it let pass, and fewer.

    Where the shop does not cut every count, the next two that it cuts stand for one and two teeth.

    One more alone would tell of even counts what odd ones do not suffer.
    """
    ring, ref = near.rings[place], near.refs[place]
    most = ring.teeth
    for other in near.sharing(place):
        module, teeth = catalogue_tooth_window(near.study, near.refs[other], near.modules)
        count = int(teeth[module == ring.module].max(initial=ring.teeth))
        most = count if other == place else min(most, count)
    shop = near.study.shop
    larger = catalogue_next_teeth(shop, ring.teeth, 1, 2)
    if larger:
        yield "larger", larger
    if most > max(larger, default=most):
        yield "largest", [most]
    fewest, _ = catalogue_teeth_range(near.study, ref)
    fewer = [count for count in catalogue_next_teeth(shop, ring.teeth, -1, 2) if count >= fewest]
    if fewer:
        yield "smaller", fewer


def _bore_steps(near: Neighbourhood, place: int) -> Iterator[tuple[str, int]]:
    """Yield the next larger bore, the largest that rim and hub let pass, the next smaller one.

    Of bores that are listed, where any are.
    """
    ring = near.rings[place]
    widest = min(_window(near, one, ring.module, ring.teeth)[1] for one in near.sharing(place))
    wider, narrower, listed = ring.bore_steps + 1, ring.bore_steps - 1, near.listed_steps(place)
    if listed is not None:  # the next of the list; at its end the next step, which the list forbids
        wider = int(min(listed[listed >= wider], default=wider))
        narrower = int(max(listed[listed <= narrower], default=narrower))
        widest = int(max(listed[listed <= widest], default=widest))
    yield "thinner", wider
    if widest > wider:
        yield "thinnest", widest
    yield "thicker", narrower


def _bores(near: Neighbourhood, place: int, teeth: int) -> list[int]:
    """Return the bores, in steps, that all sharing joints let pass with so many teeth; at most the nearest.

    Where none passes it is the bore that stands, so that the limit in the way can be told.
    """
    ring, sharing = near.rings[place], near.sharing(place)
    windows = [_window(near, other, ring.module, teeth) for other in sharing]
    low, high = max(first for first, _ in windows), min(last for _, last in windows)
    steps = np.arange(low, high + 1)
    listed = near.listed_steps(place)
    if listed is not None:
        steps = steps[np.isin(steps, listed)]
    if len(steps) == 0:
        return [ring.bore_steps]
    wider = float(near.modules[ring.module]) * (teeth - ring.teeth)  # at the same rim
    middle = ring.bore_steps + round(wider / near.study.shop.bore_step_mm)
    bores = sorted(steps.tolist(), key=lambda bore: (abs(bore - middle), bore))
    return bores[: max(5, ROWS_OF_CHANGE // len(sharing))]


def _window(near: Neighbourhood, place: int, module: int, teeth: int) -> tuple[int, int]:
    """Return first and last bore step that a joint lets pass."""
    one = RingSizes(near.study.shop, near.modules[module : module + 1], np.array([teeth]))
    low, high = catalogue_bore_window(near.study, near.refs[place], one)
    return int(low[0]), int(high[0])


def _own_part(near: Neighbourhood, place: int) -> list[list[Trial]]:
    """Return the lightest part of its own for a joint that shares one, with its module, heads and cutters."""
    ring, ref = near.rings[place], near.refs[place]
    if len(near.sharing(place)) == 1:
        return []
    module, teeth = catalogue_tooth_window(near.study, ref, near.modules)
    teeth = teeth[module == ring.module]
    modules_mm = near.modules[np.full(len(teeth), ring.module)]
    low, high = catalogue_bore_window(
        near.study, ref, RingSizes(near.study.shop, modules_mm, teeth)
    )
    if (
        int(np.maximum(high - low + 1, 0).sum()) * len(rated_gaps_on_offer_mm(ref.head))
        > ROWS_OF_OWN
    ):
        return []  # too many to look at; nothing is told rather than something guessed
    listed = catalogue_bore_steps(near.study, ref)
    rings = [
        Ring(ring.module, count, bore, ring.heads, ring.second)
        for count, first, last in zip(teeth.tolist(), low.tolist(), high.tolist(), strict=True)
        for bore in range(first, last + 1)
        if listed is None or bore in listed
    ]
    lightest = near.lightest_alone(place, rings)
    return [] if lightest is None else [[Trial("own_part", {place: lightest})]]


def _other_parts(near: Neighbourhood, place: int) -> Iterator[list[Trial]]:
    """Yield every other ring part that stands, on this joint, with every number of heads it may have."""
    mine, seen = near.amounts.part[place], set()
    for other, part in enumerate(near.amounts.part):
        if part == mine or part in seen:
            continue
        seen.add(part)
        counts = near.refs[place].joint.head_counts
        ring = near.rings[other]._replace(second=near.rings[place].second)
        yield [
            Trial("other_part", {place: ring._replace(heads=heads)}, of=other) for heads in counts
        ]
