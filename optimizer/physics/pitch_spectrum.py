"""The spectrum of pitch errors that is assumed, and what follows from it: ranges and worst shares.

An index curve has the orders 1 to P per turn (P half of the teeth). Order p is (a cos p phi + b sin p phi) /
p^s with normal a and b: amplitudes of a Rayleigh distribution that fall as 1/p^s, and random phases. s = 1 is
the middle of what seems plausible and has closed forms; what other exponents make of ranges and worst shares
was simulated (`data/`, made and repeated by the tests) and is read as a factor on s = 1. An assumption about
the spectrum: a real wheel may differ.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from ringset.physics.quantity import Quantity

#: Exponent of the spectrum where none is stated: a random walk from tooth to tooth falls as 1/p.
EXPONENT = 1.0
#: Exponents for which ranges and shares were simulated: from here to there.
EXPONENT_LEAST, EXPONENT_MOST = 0.5, 2.0
#: Of 100 rings so many do not pass the worst share; that of the simulated table.
WORST_PERCENT = 99.9
#: Over the rms share: the mean share of heads not equally spaced; and what their worst share is more.
UNEVEN_FACTOR, UNEVEN_EXTRA = 1.15, 0.45
#: How much both grow with the exponent above 1, for layouts that the tests simulate.
UNEVEN_STEEPER = 0.2

#: What the mean range of an index curve with orders 1 to P falls short of that of endless orders, times
#: the root of P where P is large and s = 1: simulated, 0.667 within 0.01; the tests repeat it.
RANGE_SHORTFALL = 0.667
#: The same range where there is order 1 alone, sqrt(2) / pi: twice the mean of a Rayleigh amplitude,
#: sqrt(2 pi) s, over pi times the root of 2 s^2 times the mean range sqrt(pi / 2) of a Brownian bridge.
RANGE_OF_ONE_ORDER = np.sqrt(2.0) / np.pi

#: Numbers of equally spaced heads whose worst share was simulated.
WORST_SHARE_HEADS = range(2, 9)


@dataclass(frozen=True)
class PitchSpectrum:
    """What is assumed of the pitch errors of a ring.

    `exponent` s from 0.5 to 2. `worst_percent` (50 to 99.999): of rings, so many do not pass the worst
    share. `uneven_factor` (1 or more) and `uneven_extra` (0 to 1) make mean and worst share of heads that are
    not equally spaced from their rms share (`head_averaging`), where the exponent is 1 or less; both are
    `steeper` by 0.2 per unit of exponent above.
    """

    exponent: float = EXPONENT
    worst_percent: float = WORST_PERCENT
    uneven_factor: float = UNEVEN_FACTOR
    uneven_extra: float = UNEVEN_EXTRA

    @property
    def steeper(self) -> float:
        """What `uneven_factor` and `uneven_extra` are more for an exponent above 1."""
        return UNEVEN_STEEPER * max(0.0, self.exponent - EXPONENT)


#: The spectrum where nothing else is stated.
MIDDLE = PitchSpectrum()


def mean_pitch_range(orders: Quantity, exponent: float = EXPONENT) -> Quantity:
    """Mean range of index curves with the orders 1 to `orders`, over that of endless ones with s = 1.

    0 without any order.
    For s = 1 and endless orders the curve is a Brownian bridge less its mean (its Karhunen-Loeve series),
    whose mean range is known: sqrt(pi / 2) of the bridge (W. Feller, The asymptotic distribution of the range
    of sums of independent random variables, Annals of Mathematical Statistics 22, 1951, doi
    10.1214/aoms/1177729589, from memory), pi^1.5 = 5.568 of the curve. Order 1 alone has sqrt(2 pi). The form
    between, 1 - `RANGE_SHORTFALL` / sqrt(P + b), has b so that P = 1 is exact; it follows simulated curves
    within 0.005. Other `exponent`s from 0.5 to 2: times a simulated factor, linear in the logarithm of P.

    >>> print(np.round(mean_pitch_range(np.array([0, 1, 48, 180])), 4))
    [0.     0.4502 0.9042 0.9503]
    """
    order = np.asarray(orders, dtype=float)
    shift = (RANGE_SHORTFALL / (1.0 - RANGE_OF_ONE_ORDER)) ** 2 - 1.0
    falling = np.where(order < 1.0, 0.0, 1.0 - RANGE_SHORTFALL / np.sqrt(order + shift))
    return np.asarray(falling * _factor("pitch_ranges", None, order, exponent))[()]


def worst_equal_share(heads: int, orders: Quantity, exponent: float = EXPONENT) -> Quantity:
    """Share that 999 of 1000 rings do not pass with 2 to 8 equally spaced heads, else IndexError.

    As simulated with 12, 48 and 256 orders, on which it hardly depends; linear in their logarithm between.

    >>> print(worst_equal_share(2, np.array([12, 48, 256])))
    [0.91  0.892 0.876]
    """
    known, exponents, values = _table("worst_pitch_shares", heads)
    plain = np.interp(np.log(orders), np.log(known), values[:, exponents.index(EXPONENT)])
    return np.minimum(1.0, plain * _factor("worst_pitch_shares", heads, orders, exponent))


def level_factor(percent: float) -> float:
    """Return how far from the middle a level lies, over 99.9 %: the quotient of normal quantiles.

    `percent` above 0 and below 100, of all rings. Quantiles: C. F. Gauss's normal distribution.

    >>> print(f"{level_factor(99.0):.3f}, {level_factor(99.9):.3f}")
    0.753, 1.000
    """
    normal = NormalDist()
    return normal.inv_cdf(percent / 100.0) / normal.inv_cdf(WORST_PERCENT / 100.0)


def _factor(
    table: str, heads: int | None, orders: Quantity, exponent: float
) -> NDArray[np.float64]:
    """Return what an exponent makes of a value for s = 1: exactly 1 there.

    Along s the logarithm of the factor is the polynomial through all exponents of the table; between the
    orders of the table it is linear in the logarithm of the order.
    """
    known, exponents, values = _table(table, heads)
    weights = [
        np.prod([(exponent - other) / (one - other) for other in exponents if other != one])
        for one in exponents
    ]
    along = np.log(values / values[:, [exponents.index(EXPONENT)]]) @ np.array(weights)
    place = np.log(np.maximum(np.asarray(orders, dtype=float), 1.0))
    return np.asarray(np.exp(np.interp(place, np.log(known), along)))


@cache
def _table(
    name: str, heads: int | None
) -> tuple[NDArray[np.float64], list[float], NDArray[np.float64]]:
    """Return orders, exponents and values of a table in `data/`, of one number of heads where it has some."""
    text = files("ringset.physics").joinpath("data", f"{name}.csv").read_text(encoding="utf-8")
    rows = [
        row for row in csv.DictReader(text.splitlines()) if row.get("heads") in (None, str(heads))
    ]
    names = [column for column in rows[0] if column.startswith("s=")]
    values = np.array([[float(row[column]) for column in names] for row in rows])
    exponents = [float(column.removeprefix("s=")) for column in names]
    return np.array([float(row["orders"]) for row in rows]), exponents, values
