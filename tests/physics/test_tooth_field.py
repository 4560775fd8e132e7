"""Decay of the tooth field over the gap, against Laplace's equation solved by finite differences."""

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import diags, identity, kron
from scipy.sparse.linalg import spsolve

from ringset.physics import tooth_field
from tests.support.narrow import array

#: Cells over half a tooth pitch in the finite differences.
CELLS = 64


def _harmonic(values: np.ndarray, order: int) -> float:
    """Amplitude of cos(order x pi) in samples at the middles of `CELLS` cells of half a pitch."""
    middle = (np.arange(CELLS) + 0.5) / CELLS
    return 2.0 * float(np.mean(values * np.cos(np.pi * order * middle)))


def _wall_to_wall(cell: float) -> Any:
    """Second derivative across half a pitch whose walls are mirrors (middle of tooth and gap)."""
    middle = np.full(CELLS, -2.0)
    middle[[0, -1]] = -1.0
    ones = np.ones(CELLS - 1)
    return diags([ones, middle, ones], [-1, 0, 1]) / cell**2


@pytest.mark.parametrize("gap", [0.2, 0.5, 1.0])
def test_decay_over_a_rack_is_that_of_laplace(gap: float) -> None:
    """Fundamental and third harmonic on one boundary; the plane, module 1."""
    pitch = np.pi
    cell = pitch / 2.0 / CELLS
    step = gap / max(1, round(gap / cell))  # the gap is a whole number of rows
    rows = round(1.5 * pitch / step)
    up = diags([1.0, -2.0, 1.0], [-1, 0, 1], shape=(rows, rows)) / step**2
    laplace = kron(up, identity(CELLS)) + kron(identity(rows), _wall_to_wall(cell))
    middle = (np.arange(CELLS) + 0.5) / CELLS
    tips = np.cos(np.pi * middle) + 0.4 * np.cos(3.0 * np.pi * middle)
    # 1.5 pitches up the potential is set to zero, which bends the decay by exp(-6 pi) only.
    source = np.zeros(rows * CELLS)
    source[:CELLS] = -tips / step**2
    potential = spsolve(laplace.tocsc(), source).reshape(rows, CELLS)
    there = potential[round(gap / step) - 1]
    for order in (1, 3):
        solved = _harmonic(there, order) / _harmonic(tips, order)
        # Second order: the exponent 2 k g is wrong by (2 k h)^2 / 12 of itself at most, h = pi/128.
        room = 2.0 * order * gap * (2.0 * order * cell) ** 2 / 12.0
        assert tooth_field.decay_over_rack(gap, 1.0, order) == pytest.approx(solved, rel=1.5 * room)


@pytest.mark.parametrize(("teeth", "gap"), [(18, 0.3), (18, 1.0), (32, 0.5), (96, 0.4)])
def test_decay_over_a_ring_is_that_of_laplace_in_polar_coordinates(teeth: int, gap: float) -> None:
    """One half pitch of a ring in r and phi: u_rr + u_r / r + u_phiphi / r^2 = 0, module 1."""
    tip = (teeth + 2.0) / 2.0
    turn = np.pi / teeth / CELLS
    step = gap / round(gap / 0.02)
    # Seven modules up the potential is set to zero. The field there is below 1e-4 of the tips, and
    # what that takes away at the gap is its square.
    rows = round(7.0 / step)
    r = tip + step * np.arange(1, rows + 1)
    up = diags(
        [
            (1.0 / step**2 - 1.0 / (2.0 * step * r))[1:],
            np.full(rows, -2.0 / step**2),
            (1.0 / step**2 + 1.0 / (2.0 * step * r))[:-1],
        ],
        [-1, 0, 1],
    )
    laplace = kron(up, identity(CELLS)) + kron(diags(1.0 / r**2), _wall_to_wall(turn))
    middle = (np.arange(CELLS) + 0.5) / CELLS
    tips = np.cos(np.pi * middle) + 0.4 * np.cos(3.0 * np.pi * middle)
    source = np.zeros(rows * CELLS)
    source[:CELLS] = -tips * (1.0 / step**2 - 1.0 / (2.0 * step * r[0]))
    potential = spsolve(laplace.tocsc(), source).reshape(rows, CELLS)
    there = potential[round(gap / step) - 1]
    for order in (1, 3):
        solved = _harmonic(there, order) / _harmonic(tips, order)
        # Both steps are h = 0.025 modules; see the rack for the rule of second order.
        room = 2.0 * order * gap * (2.0 * order * 0.025) ** 2 / 12.0
        assert tooth_field.decay_over_ring(gap, 2.0 * tip, teeth, order) == pytest.approx(
            solved, rel=1.5 * room
        )


def test_ring_tends_to_rack_with_many_teeth() -> None:
    """The difference falls as 1/z; at 18 teeth the ring keeps more than the rack."""
    teeth = np.array([18, 180, 1800, 18000])
    ring = tooth_field.decay_over_ring(0.4, teeth + 2.0, teeth)
    rack = tooth_field.decay_over_rack(0.4, 1.0)
    excess = array(ring / rack - 1.0)
    assert np.all(excess > 0.0)
    assert excess[:-1] / excess[1:] == pytest.approx([10.0, 10.0, 10.0], rel=0.1)
    # First order: z ln(1 + g/r_a) = 2 g (1 - (2 + g) / z), hence 2 g (2 + g) / z.
    assert excess[-1] == pytest.approx(0.8 * 2.4 / 18000.0, rel=1e-3)


@given(
    gap=st.floats(0.0, 3.0),
    module=st.floats(0.2, 5.0),
    teeth=st.integers(18, 400),
    order=st.integers(1, 5),
)
def test_decay_is_a_share_that_multiplies_over_harmonics(
    gap: float, module: float, teeth: int, order: int
) -> None:
    """1 at the tips, never above; harmonic k decays as the k-th power of the fundamental."""
    tip = module * (teeth + 2)
    for first, this in (
        (tooth_field.decay_over_rack(gap, module), tooth_field.decay_over_rack(gap, module, order)),
        (
            tooth_field.decay_over_ring(gap, tip, teeth),
            tooth_field.decay_over_ring(gap, tip, teeth, order),
        ),
    ):
        assert 0.0 < this <= first <= 1.0
        # Powers amplify rounding by the exponent, up to 5 x 30 in the logarithm.
        assert this == pytest.approx(first**order, rel=1e-12)
    assert tooth_field.decay_over_rack(0.0, module, order) == 1.0
    assert tooth_field.decay_over_ring(0.0, tip, teeth, order) == 1.0


def test_amplitude_ratio_is_one_at_the_stated_point() -> None:
    """The stated point is a straight rack: many teeth of the stated module at the stated gap."""
    teeth = 10**7
    at_point = tooth_field.amplitude_ratio(0.4, 1.5 * (teeth + 2.0), teeth, 0.4, 1.5)
    # 1/z is left of the ring.
    assert at_point == pytest.approx(1.0, abs=1e-6)
    third = tooth_field.third_harmonic_ratio(0.4, 1.5 * (teeth + 2.0), teeth, 0.4, 1.5)
    assert third == pytest.approx(1.0, abs=1e-6)


def test_amplitude_ratio_in_the_rack_limit() -> None:
    """exp(-2 g/m) / exp(-2 g0/m0): wider gap less, coarser module more."""
    teeth = 10**7
    ratio = tooth_field.amplitude_ratio(0.6, 2.0 * (teeth + 2.0), teeth, 0.3, 1.0)
    assert ratio == pytest.approx(np.exp(-2.0 * 0.6 / 2.0 + 2.0 * 0.3 / 1.0), rel=1e-6)
    assert tooth_field.amplitude_ratio(0.5, 98.0, 96, 0.4, 1.0) < tooth_field.amplitude_ratio(
        0.4, 98.0, 96, 0.4, 1.0
    )
    assert tooth_field.amplitude_ratio(0.4, 98.0, 47, 0.4, 1.0) > tooth_field.amplitude_ratio(
        0.4, 98.0, 96, 0.4, 1.0
    )


def test_third_harmonic_ratio_goes_as_exp_of_minus_four_gaps_per_module() -> None:
    """A wider gap in modules filters the tooth shape, in the rack limit exp(-4 g/m)."""
    teeth = 10**7
    for gap, module in ((0.2, 1.0), (0.6, 1.0), (0.4, 2.0)):
        ratio = tooth_field.third_harmonic_ratio(gap, module * (teeth + 2.0), teeth, 0.3, 0.8)
        expected = np.exp(-4.0 * gap / module) / np.exp(-4.0 * 0.3 / 0.8)
        assert ratio == pytest.approx(expected, rel=2e-6)


def test_third_harmonic_ratio_of_a_ring_is_its_decay_squared() -> None:
    """On a ring (r_a / (r_a + g))^(2 z): the third power over the first."""
    gap, teeth = 0.4, 32
    tip = 34.0
    base = tooth_field.third_harmonic_ratio(0.0, tip, teeth, 0.3, 1.0)
    at_gap = tooth_field.third_harmonic_ratio(gap, tip, teeth, 0.3, 1.0)
    assert at_gap / base == pytest.approx((17.0 / 17.4) ** 64, rel=1e-12)


def test_arrays_equal_numbers() -> None:
    """One call for many rings gives what many calls give; numbers give numbers."""
    gap, teeth = np.array([0.2, 0.4, 0.8]), np.array([18, 96, 360])
    tip = 1.0 * (teeth + 2.0)
    ratios = tooth_field.amplitude_ratio(gap, tip, teeth, 0.4, 1.0)
    thirds = tooth_field.third_harmonic_ratio(gap, tip, teeth, 0.4, 1.0)
    racks = tooth_field.decay_over_rack(gap, 1.0, 2)
    for i in range(3):
        g, t, z = float(gap[i]), float(tip[i]), int(teeth[i])
        alone = tooth_field.amplitude_ratio(g, t, z, 0.4, 1.0)
        assert np.ndim(alone) == 0
        # Vectorised exponentials may differ in the last bit.
        assert array(ratios)[i] == pytest.approx(alone, rel=1e-14)
        assert array(thirds)[i] == pytest.approx(
            tooth_field.third_harmonic_ratio(g, t, z, 0.4, 1.0), rel=1e-14
        )
        assert array(racks)[i] == pytest.approx(tooth_field.decay_over_rack(g, 1.0, 2), rel=1e-14)
