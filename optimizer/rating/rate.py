"""Stage 2: sizes, mass, error and checks of every row of the catalogue, on whole columns at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from functools import reduce

import numpy as np

from ringset.arrays import Floats, Ints
from ringset.catalogue.limits import catalogue_size_checks
from ringset.catalogue.partners import catalogue_second_rows
from ringset.catalogue.rows import Catalogue
from ringset.physics import geometry, resolution
from ringset.rating.error_budget import rated_error_budget
from ringset.rating.limits import rated_checks
from ringset.rating.pairs import (
    SECOND_KEEPS,
    rated_alone_arcsec,
    rated_first_rings,
    rated_limits_kept_by_both,
    rated_rows_ask_pairs,
    rated_with_second,
)
from ringset.rating.rated import Rated, RatedInFull
from ringset.rating.sizes import rated_cutters, rated_gap_left_mm, rated_sizes
from ringset.schema.equipment import Head
from ringset.schema.study import Study


def rate(study: Study, rows: Catalogue, gap_mm: Floats | None = None) -> Rated:
    """Rate every row of a catalogue of a canonical study; `limits` says per limit which rows keep it.

    Rows must have a rim above 0 and a bore within any fit's sizes, as those of a catalogue have; numbers of
    others mean nothing. Without `gap_mm` (float64, mm, one per row) each row gets the head's gap or,
    where the head allows a range, the gap of that range that keeps most limits and has the least error
    among those: a repeatability target of the joint is one of these limits, one at the tool point is not.
    """
    if gap_mm is None:
        return _with_best_gap(study, rows)
    return _without_budget(_at_gap(study, rows, gap_mm, _seconds_of(study, rows)))


def rate_in_full(study: Study, rows: Catalogue, gap_mm: Floats | None = None) -> RatedInFull:
    """Rate every row of `rows` as `rate` does, and keep its whole budget and every check, of sizes too."""
    if gap_mm is None:
        first, *more = _gaps_in_turn(rows)
        gap_mm = _with_best_gap(study, rows).gap_mm if more else first
    rated = _at_gap(study, rows, gap_mm, _seconds_of(study, rows))
    rated.checks.update(catalogue_size_checks(study, rows))
    return rated


@dataclass(frozen=True)
class _Seconds:
    """Second rings of rows, rated, their worst cases alone in arcsec, and which is each row's (-1: none)."""

    rated: Rated
    worst_arcsec: Floats
    place: Ints


def _seconds_of(study: Study, rows: Catalogue) -> _Seconds | None:
    """Rate the second rings of rows, whatever the gaps of the first ones; None where none is asked."""
    if not rated_rows_ask_pairs(rows):
        return None
    others, place = catalogue_second_rows(rows)
    rated = rated_seconds(study, others)
    return _Seconds(rated, rated_alone_arcsec(study, others, rated.gap_mm), place)


def _at_gap(
    study: Study, rows: Catalogue, gap_mm: Floats, seconds: _Seconds | None
) -> RatedInFull:  # fmt: skip
    """Rate every row at its gap, with its second ring where it has one; `checks` are those of `limits`."""
    if seconds is None:
        return _checked(study, _first_rings(study, rows, gap_mm))
    firsts, gaps, back = rated_first_rings(rows, gap_mm)
    rated = replace(_first_rings(study, firsts, gaps).take(back), catalogue=rows)
    worst = rated_alone_arcsec(study, firsts, gaps)[back]
    second, place = seconds.rated, seconds.place
    pairs = rated_with_second(study.shop, rated, worst, second, seconds.worst_arcsec, place)
    rated = _checked(study, pairs)
    rated_limits_kept_by_both(rated, second, place)
    return rated


def _without_budget(rated: RatedInFull) -> Rated:
    return Rated(**{f.name: getattr(rated, f.name) for f in fields(Rated)})


def _checked(study: Study, rated: RatedInFull) -> RatedInFull:
    """Return rows with every limit but those of size held against them."""
    rated.checks.update(rated_checks(study, rated))
    rated.limits.update({field: check.kept for field, check in rated.checks.items()})
    return rated


def _first_rings(study: Study, rows: Catalogue, gap_mm: Floats) -> RatedInFull:
    """Rate the ring of every row at its gap, without any limit."""
    sizes = rated_sizes(study, rows)
    budget = rated_error_budget(study, rows, sizes, gap_mm)
    return RatedInFull(
        catalogue=rows,
        pitch_mm=sizes.pitch_mm,
        tip_mm=sizes.tip_mm,
        root_mm=sizes.root_mm,
        rim_mm=sizes.rim_mm,
        blank_kg=np.asarray(
            geometry.mass_kg(
                geometry.annulus_section(sizes.tip_mm, rows.bore_mm()),
                rows.per_joint(lambda r: r.joint.face_width_mm),
                study.shop.ring_material.density_kg_per_m3,
            )
        ),
        error_arcsec=np.asarray(budget.total(study.target.basis)),
        repeatability_arcsec=np.asarray(budget.repeatability(study.target.basis)),
        usable_bits=np.asarray(
            resolution.usable_bits(budget.amplitude["noise"], study.target.noise_free_sigmas)
        ),
        gap_mm=gap_mm,
        gap_left_mm=rated_gap_left_mm(study, rows, sizes, gap_mm),
        tooth_rate_hz=np.asarray(
            resolution.tooth_rate_hz(rows.teeth, rows.per_joint(lambda r: r.joint.speed_max_rpm))
        ),
        lobe_um=sizes.lobe_um,
        runout_um=sizes.runout_um,
        cutter=rated_cutters(study.shop, rows),
        pair_error_arcsec=np.zeros(len(rows)),
        pair_tolerance_arcsec=np.zeros(len(rows)),
        limits={},
        budget=budget,
        checks={},
    )


def rated_seconds(study: Study, others: Catalogue) -> Rated:
    """Rate second rings, rows of `catalogue_second_rows`, each at the gap of `rated_second_gaps_mm`."""
    return rate(study, others, rated_second_gaps_mm(study, others))


def rated_second_gaps_mm(study: Study, others: Catalogue) -> Floats:
    """Return the gap of every second ring, float64 in mm.

    Of a range it is the gap that keeps most of the limits that second rings keep, and of those the one of
    least worst case, which the tolerance of the pair must hold: no target of the joint bears on it.
    """
    best, *more = _gaps_in_turn(others)
    kept, worst = np.full(len(others), -1), np.full(len(others), np.inf)
    for gap in (best, *more) if more else ():
        limits = rate(study, others, gap).limits
        now = np.sum([limits[field] for field in SECOND_KEEPS & limits.keys()], axis=0)
        error = rated_alone_arcsec(study, others, gap)
        swap = (now > kept) | ((now == kept) & (error < worst))
        best, kept = np.where(swap, gap, best), np.where(swap, now, kept)
        worst = np.where(swap, error, worst)
    return best


def rated_gaps_on_offer_mm(head: Head) -> Floats:
    """Return the gaps that the search may choose for a head, float64 in mm, narrowest first."""
    if head.gap_min_mm is None or head.gap_max_mm is None:
        return np.array([head.gap_mm])
    steps = int(np.floor((head.gap_max_mm - head.gap_min_mm) / head.gap_step_mm + 1e-9))
    return np.round(head.gap_min_mm + head.gap_step_mm * np.arange(steps + 1), 9)


def _gaps_in_turn(rows: Catalogue) -> Iterator[Floats]:
    """Yield a gap for every row, float64 in mm, narrowest first, until every head has had all of its own."""
    choices = [rated_gaps_on_offer_mm(ref.head) for ref in rows.joints]
    for turn in range(max((len(choice) for choice in choices), default=1)):
        yield np.array([choice[min(turn, len(choice) - 1)] for choice in choices])[rows.joint]


def _with_best_gap(study: Study, rows: Catalogue) -> Rated:
    """Rate rows at every gap of their heads and keep, per row, the one of least error that is allowed."""
    seconds = _seconds_of(study, rows)
    every = (_without_budget(_at_gap(study, rows, gap, seconds)) for gap in _gaps_in_turn(rows))
    return reduce(_better, every)


def _better(one: Rated, other: Rated) -> Rated:
    """Return, row by row, the rating that keeps more limits or, if equal, has less error."""

    def order(rated: Rated) -> tuple[Floats, Floats]:
        kept = sum(mask.astype(np.float64) for mask in rated.limits.values())
        return np.asarray(kept), rated.error_arcsec

    (kept, error), (other_kept, other_error) = order(one), order(other)
    swap = (other_kept > kept) | ((other_kept == kept) & (other_error < error))
    columns = {
        f.name: np.where(swap, getattr(other, f.name), getattr(one, f.name))
        for f in fields(one)
        if f.name not in ("catalogue", "limits")
    }
    limits = {name: np.where(swap, other.limits[name], mask) for name, mask in one.limits.items()}
    return Rated(catalogue=one.catalogue, limits=limits, **columns)
