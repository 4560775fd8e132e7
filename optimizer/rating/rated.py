"""Rated rows: what the stages after rating see of every ring on every joint."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Self

import numpy as np

from ringset.arrays import Floats, Ints, Mask, RowIndices
from ringset.catalogue.check import Check
from ringset.catalogue.rows import NO_SECOND, ROW_COLUMNS, Catalogue
from ringset.physics.budget import Budget


@dataclass(frozen=True)
class Weighed:
    """Rows with what a search needs of them; all columns have one entry per row of `catalogue`.

    `cutter` is int64, equal for rows of one cutter and -1 where none is needed; `blank_kg` is the mass of
    the turned blank (of both where there is a second ring), `error_arcsec` the angle error and
    `repeatability_arcsec` the part of it that does not repeat with the angle, both on the basis of the
    study's target (float64).
    """

    catalogue: Catalogue
    cutter: Ints
    blank_kg: Floats
    error_arcsec: Floats
    repeatability_arcsec: Floats

    def take(self, rows: RowIndices | Mask) -> Self:
        """Return some rows only, given by their places in any order or by one yes or no per row."""
        columns = {
            f.name: getattr(self, f.name)[rows] for f in fields(self) if f.name not in _WHOLE
        }
        return replace(self, catalogue=self.catalogue.take(rows), **columns)

    @property
    def all_heads(self) -> Ints:
        """Heads of every row: those on its ring, and the one on its second ring where it has one."""
        rows = self.catalogue
        return rows.heads + (rows.second_teeth > 0) if rows.paired else rows.heads

    def weighed(self) -> Weighed:
        """Return the rows without anything that a search does not need."""
        return Weighed(**{f.name: getattr(self, f.name) for f in fields(Weighed)})


@dataclass(frozen=True)
class Rated(Weighed):
    """A rated catalogue: float64 columns with one entry per row, units as their names say.

    `gap_mm` is the gap chosen for the row, `gap_left_mm` what is left of it at worst (negative where ring and
    head would touch). `limits` tells of every limit but those of size which rows keep it, by the field that
    answers name it by; it has all limits that some joint of the study states. `pair_error_arcsec` is by how
    much the errors of a ring and its second one may differ, `pair_tolerance_arcsec` by how much they may
    (both 0 where a joint asks no second ring).
    """

    pitch_mm: Floats
    tip_mm: Floats
    root_mm: Floats
    rim_mm: Floats
    usable_bits: Floats
    gap_mm: Floats
    gap_left_mm: Floats
    tooth_rate_hz: Floats
    lobe_um: Floats
    runout_um: Floats
    pair_error_arcsec: Floats
    pair_tolerance_arcsec: Floats
    limits: dict[str, Mask]

    @property
    def inside(self) -> Mask:
        """Which rows keep every limit of their joint; those of size hold for all rows of a catalogue."""
        keeps = np.ones(len(self.catalogue), dtype=np.bool_)
        for mask in self.limits.values():
            keeps &= mask
        return keeps

    def take(self, rows: RowIndices | Mask) -> Self:
        """Return some rows only, given by their places in any order or by one yes or no per row."""
        limits = {name: mask[rows] for name, mask in self.limits.items()}
        return replace(super().take(rows), limits=limits)


@dataclass(frozen=True)
class RatedInFull(Rated):
    """Rated rows that keep what went into their error and limits: for the few rows of an answer.

    `budget` holds amplitudes and standard uncertainties in arcsec, `checks` every limit that some joint
    states, of size too, by its field; both with an entry per row (or one number for all rows).
    """

    budget: Budget
    checks: dict[str, Check]

    def take(self, rows: RowIndices | Mask) -> Self:
        """Return some rows only, given by their places in any order or by one yes or no per row."""
        checks = {
            name: replace(check, value=check.value[rows], allowed=check.allowed[rows])
            for name, check in self.checks.items()
        }
        return replace(super().take(rows), budget=self.budget.take(rows), checks=checks)


#: Fields that are not one array with an entry per row.
_WHOLE = ("catalogue", "limits", "budget", "checks")


def joined_ratings(blocks: list[Weighed]) -> Weighed:
    """Return blocks as one; the list is emptied on the way, so that little is held twice."""
    if len(blocks) == 1:
        return blocks.pop()
    known = blocks[0].catalogue
    places = [[getattr(block.catalogue, name) for block in blocks] for name in ROW_COLUMNS]
    paired = [block.catalogue.paired for block in blocks]
    seconds = [block.catalogue.partner_teeth() for block in blocks] if any(paired) else []
    names = [f.name for f in fields(Weighed) if f.name != "catalogue"]
    columns = [[getattr(block, name) for block in blocks] for name in names]
    blocks.clear()
    rows: list[Ints] = [np.concatenate(places.pop(0)) for _ in ROW_COLUMNS]
    rows.append(np.concatenate(seconds) if any(paired) else NO_SECOND)
    whole = Catalogue(known.joints, known.modules_mm, known.bore_step_mm, *rows)
    return Weighed(whole, **{name: np.concatenate(columns.pop(0)) for name in names})
