"""Thin rings under equal radial forces: published cases and the table of coefficients."""

import numpy as np
import pytest

from ringset.physics import rim_bending
from tests.published.tables import printed

#: A stiffness that makes W R^3 / (E I) one for unit force and radius.
UNIT = (1.0, 1.0, 1.0)


def test_pinched_ring_coefficients_of_the_textbooks() -> None:
    """Whole diameters: 0.149 (loaded) and 0.137 (the other), pi/4 - 2/pi and 2/pi - 1/2.

    Timoshenko, Strength of Materials I, as quoted in an unnamed verification sheet.
    """
    at_force, midway = rim_bending.n_force_deflection_mm(2, *UNIT)
    assert 2.0 * at_force == printed("0.149")
    assert 2.0 * midway == printed("0.137")
    assert 2.0 * at_force == pytest.approx(np.pi / 4.0 - 2.0 / np.pi, rel=1e-12)
    assert 2.0 * midway == pytest.approx(2.0 / np.pi - 0.5, rel=1e-12)


def test_pinched_ring_of_two_metres() -> None:
    """8 N on a radius of 2 m, E I 2666.67 N m^2: half changes 1.79e-3 m and 1.64e-3 m.

    Unnamed verification sheet "circular ring structure", a textbook problem quoting Timoshenko,
    Strength of Materials I. In mm and N mm^2 here.
    """
    at_force, midway = rim_bending.n_force_deflection_mm(2, 8.0, 2000.0, 2666.67e6)
    assert at_force == printed("1.79")
    assert midway == printed("1.64")


def test_pinched_ring_of_a_hundred_millimetres() -> None:
    """10 N on a radius of 0.1 m, 200 GPa, section 10 x 5 mm with 5 radial: half change 3.57e-5 m.

    Unnamed verification page "pinched ring".
    """
    stiffness = rim_bending.bending_stiffness_n_mm2(10.0, 5.0, 200.0)
    at_force, _ = rim_bending.n_force_deflection_mm(2, 10.0, 100.0, stiffness)
    assert 1e2 * at_force == printed("3.57")
    # The same ring held in two jaws, bore 195 and rim 5: half of both deflections.
    lobe = sum(rim_bending.n_force_deflection_mm(2, 10.0, 100.0, stiffness)) / 2.0
    # 0.02 mm N units: (0.074389 + 0.068310) / 2 of 10 N x 1e6 mm^3 / 2.0833e7 N mm^2 (computed).
    assert lobe == printed("0.034248")
    # R / t = 20: as a curved beam with shear it yields a quarter of a percent more
    thick = rim_bending.clamping_lobe_mm(2, 10.0, 195.0, 5.0, 10.0, 200.0, 0.3)
    assert thick / lobe == pytest.approx(1.0025, abs=5e-4)


# n equal radial forces: deflection at each force and midway over W R^3 / (E I), ratio to n = 2.
# Form of the ring case in Roark's Formulas for Stress and Strain (W. C. Young, 1989, from memory), derived
# and confirmed by a Fourier sum beforehand; computed. Given as text times a power of ten.
@pytest.mark.parametrize(
    ("forces", "power", "at_force", "midway", "ratio"),
    [
        (2, 2, "7.4389", "6.8310", "1.0000"),
        (3, 2, "1.59386", "1.42568", "0.21426"),
        (4, 3, "6.07931", "5.38620", "0.081723"),
        (6, 3, "1.68182", "1.47982", "0.022608"),
        (8, 4, "6.93111", "6.08380", "0.0093174"),
        (12, 4, "2.02001", "1.76998", "0.0027155"),
    ],
)
def test_n_force_table(forces: int, power: int, at_force: str, midway: str, ratio: str) -> None:
    found = rim_bending.n_force_deflection_mm(forces, *UNIT)
    assert found[0] * 10.0**power == printed(at_force)
    assert found[1] * 10.0**power == printed(midway)
    assert found[0] / rim_bending.n_force_deflection_mm(2, *UNIT)[0] == printed(ratio)


# Bending moment at a force over W R, with its sign there: it closes the ring, hence negative in the
# table; given as its size here. Computed from the same handbook form; n = 2 is the textbook 1/pi.
@pytest.mark.parametrize(
    ("forces", "moment"),
    [
        (2, "0.31831"), (3, "0.18879"), (4, "0.13662"), (6, "0.08890"), (8, "0.06613"),
        (12, "0.04383"),
    ],
)  # fmt: skip
def test_n_force_moments(forces: int, moment: str) -> None:
    assert rim_bending.n_force_moments_n_mm(forces, 1.0, 1.0)[0] == printed(moment)


def test_moments_of_the_pinched_ring() -> None:
    """0.31831 and 0.18169 P R (textbooks); 5.09 N m at 8 N on 2 m, same verification sheet as above."""
    at_force, midway = rim_bending.n_force_moments_n_mm(2, 1.0, 1.0)
    assert at_force == printed("0.31831")
    assert midway == printed("0.18169")
    assert rim_bending.n_force_moments_n_mm(2, 8.0, 2000.0)[0] / 1e3 == printed("5.09")


def test_frequencies_of_a_free_ring() -> None:
    """R 53 mm, section 8 x 6 (6 radial), steel: 1362, 3852, 7386 Hz (computed).

    The form of S. Timoshenko, Vibration Problems in Engineering, 1955, from memory.

    210 GPa and 7850 kg/m^3; the section's width cancels.
    """
    found = [rim_bending.ring_frequency_hz(k, 100.0, 6.0, 210.0, 7850.0) for k in (2, 3, 4)]
    assert found == [printed("1362"), printed("3852"), printed("7386")]


def test_lobes_of_a_line_load() -> None:
    """w = q R^4 / (E I (k^2 - 1)^2) (computed): k = 2 is a ninth, k = 3 a sixty-fourth."""
    softness = [1.0 / rim_bending.lobe_stiffness_n_per_mm2(k, 1.0, 1.0) for k in (2, 3, 4)]
    assert softness == pytest.approx([1 / 9, 1 / 64, 1 / 225], rel=1e-12)
