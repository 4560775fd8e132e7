"""Rated rows: what the stages after rating see of every ring on every joint."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from ringset.arrays import Floats
from ringset.catalogue.check import Check
from ringset.catalogue.rows import ROW_COLUMNS, Catalogue
from ringset.physics.budget import Budget


@dataclass(frozen=True)
class Weighed:
    """Rows with what a search needs of them: cutter, mass of the blank in kg, error in arcsec."""

    catalogue: Catalogue
    cutter: NDArray[np.int64]
    blank_kg: Floats
    error_arcsec: Floats

    def take(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> Self:
        """Return the given rows only (indices or mask)."""
        columns = {
            f.name: getattr(self, f.name)[rows] for f in fields(self) if f.name not in _WHOLE
        }
        return replace(self, catalogue=self.catalogue.take(rows), **columns)

    def weighed(self) -> Weighed:
        """Return the rows without anything that a search does not need."""
        return Weighed(self.catalogue, self.cutter, self.blank_kg, self.error_arcsec)


@dataclass(frozen=True)
class Rated(Weighed):
    """A rated catalogue: one array entry per row. Lengths mm, errors arcsec, masses kg."""

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
    limits: dict[str, NDArray[np.bool_]]

    @property
    def inside(self) -> NDArray[np.bool_]:
        """Rows that keep every limit of their joint."""
        keeps = np.ones(len(self.catalogue), dtype=np.bool_)
        for mask in self.limits.values():
            keeps &= mask
        return keeps

    def take(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> Self:
        """Return the given rows only (indices or mask)."""
        limits = {name: mask[rows] for name, mask in self.limits.items()}
        return replace(super().take(rows), limits=limits)


@dataclass(frozen=True)
class RatedInFull(Rated):
    """Rated rows that keep what went into their error and limits: for the few rows of an answer.

    `budget` holds amplitudes and standard uncertainties in arcsec, `checks` every check that some joint
    states, by the field that sets its limit; both with an entry per row (or one number for all rows).
    """

    budget: Budget
    checks: dict[str, Check]

    def take(self, rows: NDArray[np.intp] | NDArray[np.bool_]) -> Self:
        """Return the given rows only (indices or mask)."""
        checks = {
            name: replace(check, value=check.value[rows], allowed=check.allowed[rows])
            for name, check in self.checks.items()
        }
        return replace(super().take(rows), budget=self.budget.take(rows), checks=checks)


#: Fields that are not one array with an entry per row.
_WHOLE = ("catalogue", "limits", "budget", "checks")


def joined(blocks: list[Weighed]) -> Weighed:
    """Return blocks as one; the list is emptied on the way, so that little is held twice."""
    if len(blocks) == 1:
        return blocks.pop()
    known = blocks[0].catalogue
    places = [[getattr(block.catalogue, name) for block in blocks] for name in ROW_COLUMNS]
    cutter, blank = [b.cutter for b in blocks], [b.blank_kg for b in blocks]
    error = [b.error_arcsec for b in blocks]
    blocks.clear()
    rows = [np.concatenate(places.pop(0)) for _ in ROW_COLUMNS]
    whole = Catalogue(known.joints, known.modules_mm, known.bore_step_mm, *rows)
    return Weighed(whole, np.concatenate(cutter), np.concatenate(blank), np.concatenate(error))
