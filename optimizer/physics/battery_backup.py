"""Counting on a battery while the robot is without power.

One periodic track is absolute only inside one tooth. Whoever wants the angle after a power cut must go
on counting pitches (z per turn), unless something else fixes the angle inside the turn; then turns are
enough. A counter that lost its battery has lost its reference and must say so.
"""

from __future__ import annotations

import numpy as np

from ringset.physics.arguments import physics_above_zero, physics_zero_or_more
from ringset.physics.limit_rule import number_at_most, number_in_whole_units
from ringset.physics.quantity import Quantity

#: Hours of a mean (Julian) year of 365.25 days.
HOURS_PER_YEAR = 8766.0


def counter_bits(counts_per_turn: Quantity, turns: Quantity) -> int | np.ndarray:
    """Bits of a counter over the whole range: ceil(log2(counts per turn x turns)), a whole number.

    `counts_per_turn` is the tooth count where pitches are counted, 1 where turns are; `turns` is the
    whole range, 4 for two turns either way. Both above 0, else ValueError; at most 2^53 counts.

    >>> counter_bits(180, turns=4)  # 720 counts
    10
    """
    physics_above_zero(counts_per_turn=counts_per_turn, turns=turns)
    counts = number_in_whole_units(np.asarray(counts_per_turn) * turns, 1.0)
    # the binary exponent of the highest count is exact where a logarithm need not be
    bits = np.asarray(np.frexp(np.maximum(counts, 1) - 1.0)[1], dtype=np.int64)
    return int(bits) if bits.ndim == 0 else bits


def fastest_unpowered_rpm(polling_ms: Quantity, periods_per_turn: Quantity = 1) -> Quantity:
    """Speed in rpm below which a counter woken every `polling_ms` misses nothing: 60 / (2 p T).

    Less than half a period may pass between two looks (sampling theorem). `periods_per_turn` is the tooth
    count where pitches are counted (60 / (2 z T)) and 1 where the angle inside the turn is absolute
    (30 / T). Both above 0, else ValueError. The speed itself is already too fast.

    >>> print(f"{fastest_unpowered_rpm(1.0, periods_per_turn=64):.2f}")
    468.75
    """
    physics_above_zero(polling_ms=polling_ms, periods_per_turn=periods_per_turn)
    return 30000.0 / (np.asarray(periods_per_turn) * polling_ms)


def longest_polling_ms(speed_rpm: Quantity, periods_per_turn: Quantity = 1) -> Quantity:
    """Time in ms between two looks at or above which a counter can miss a period: 30000 / (p n).

    The inverse of `fastest_unpowered_rpm`; both arguments above 0, else ValueError.
    """
    physics_above_zero(speed_rpm=speed_rpm, periods_per_turn=periods_per_turn)
    return 30000.0 / (np.asarray(periods_per_turn) * speed_rpm)


def average_current_ua(
    backup_current_ua: Quantity, heads: Quantity, unpowered_share: Quantity
) -> Quantity:
    """Current in uA drawn from one battery, averaged over calendar time: I_b H x share.

    `backup_current_ua` flows into each of `heads` counters while the robot is without power, which it
    is for `unpowered_share` of the time (0 to 1). No negative current or count; else ValueError.
    Leakage that flows at all times comes on top.
    """
    physics_zero_or_more(backup_current_ua=backup_current_ua, heads=heads)
    _share(unpowered_share=unpowered_share)
    return np.asarray(backup_current_ua) * heads * unpowered_share


def battery_life_years(
    capacity_ah: Quantity,
    usable_share: Quantity,
    current_ua: Quantity,
    self_discharge_per_year: Quantity,
) -> Quantity:
    """Life in years: Q eta / (8766 I + s Q), I in A averaged over calendar time.

    `usable_share` eta of the nominal capacity Q can be drawn (0 to 1); self-discharge s is a share of
    the NOMINAL capacity each year, so the loss does not fall as the cell empties: the safe side.
    capacity_ah > 0; no current and no self-discharge would last for ever; else ValueError. Balance of
    charge, closed form.

    >>> print(f"{battery_life_years(2.4, 0.8, current_ua=20.0, self_discharge_per_year=0.01):.2f}")
    9.63
    """
    physics_above_zero(capacity_ah=capacity_ah)
    physics_zero_or_more(current_ua=current_ua, self_discharge_per_year=self_discharge_per_year)
    _share(usable_share=usable_share)
    lost_ah = np.asarray(self_discharge_per_year) * capacity_ah
    per_year_ah = HOURS_PER_YEAR * 1e-6 * np.asarray(current_ua) + lost_ah
    if not np.all(per_year_ah > 0.0):
        raise ValueError("current_ua: given 0, allowed above 0 where there is no self-discharge")
    return capacity_ah * np.asarray(usable_share) / per_year_ah


def largest_current_ua(
    capacity_ah: Quantity,
    usable_share: Quantity,
    life_years: Quantity,
    self_discharge_per_year: Quantity,
) -> Quantity:
    """Largest average current in uA for a wanted life: (Q eta / life - s Q) / 8766 h.

    The inverse of `battery_life_years`. Self-discharge alone ends the life at eta / s: a life_years
    beyond that raises ValueError, as do values out of the ranges named there.

    >>> most = largest_current_ua(2.4, 0.8, life_years=20.0, self_discharge_per_year=0.01)
    >>> print(f"{most:.2f} uA last {battery_life_years(2.4, 0.8, most, 0.01):.1f} years")
    8.21 uA last 20.0 years
    """
    physics_above_zero(capacity_ah=capacity_ah, life_years=life_years)
    physics_zero_or_more(self_discharge_per_year=self_discharge_per_year)
    _share(usable_share=usable_share)
    # as a product: eta / s has no value where nothing discharges by itself
    lost = np.asarray(self_discharge_per_year) * life_years
    if not number_at_most(lost, usable_share).all():
        raise ValueError(
            f"life_years: given {np.max(life_years)}, allowed at most "
            f"{np.min(usable_share) / np.max(self_discharge_per_year):g} "
            "(usable share over self-discharge)"
        )
    left = np.maximum(0.0, usable_share - lost)
    return capacity_ah * left / life_years / (HOURS_PER_YEAR * 1e-6)


def _share(**given: Quantity) -> None:
    """Raise ValueError naming the first argument that is no share of a whole."""
    for name, value in given.items():
        values = np.asarray(value)
        wrong = values[~((values >= 0.0) & (values <= 1.0))]
        if wrong.size:
            raise ValueError(f"{name}: given {wrong[0]}, allowed 0 to 1")
