"""Two rings on one shaft: every pitch decoded, right up to the stated errors and wrong beyond them."""

from collections.abc import Callable
from math import gcd
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from ringset.arrays import Floats
from ringset.physics import vernier
from ringset.physics.quantity import ARCSEC_PER_RAD
from ringset.physics.vernier import (
    vernier_angle_deg,
    vernier_is_unambiguous,
    vernier_pitch_number,
    vernier_unique_turns,
)
from tests.support.narrow import array

PAIRS = [(64, 63), (63, 64), (64, 37), (37, 64), (180, 179), (97, 96), (101, 60), (7, 1), (1, 9)]


def positions(teeth: int) -> Floats:
    """Turns at five places in every pitch, its ends all but touched."""
    inside = np.array([1e-6, 0.2, 0.5, 0.8, 1.0 - 1e-6])
    return np.ravel((np.arange(teeth)[:, np.newaxis] + inside) / teeth)


def phases(
    turn: Floats, z1: int, z2: int, d1: float = 0.0, d2: float = 0.0
) -> tuple[Floats, Floats]:
    """What two rings with phase errors show."""
    full = 2.0 * np.pi
    return np.mod(full * z1 * turn + d1, full), np.mod(full * z2 * turn + d2, full)


def off_deg(found: float | Floats, turn: Floats, error_rad: float, z1: int) -> Floats:
    """How far the found angle is from the true one and the first ring's error, the short way."""
    expected = 360.0 * turn + np.degrees(error_rad) / z1
    return np.asarray(np.abs((array(found) - expected + 180.0) % 360.0 - 180.0))


@pytest.mark.parametrize(("z1", "z2"), PAIRS)
def test_every_pitch_of_a_turn_is_found(z1: int, z2: int) -> None:
    turn = positions(z1)
    first, second = phases(turn, z1, z2)
    assert np.array_equal(vernier_pitch_number(first, second, z1, z2), np.repeat(np.arange(z1), 5))
    assert off_deg(vernier_angle_deg(first, second, z1, z2), turn, 0.0, z1).max() < 1e-10


def worst_errors(z1: int, z2: int, share: float) -> list[tuple[float, float]]:
    """Pairs of errors with |z2 d1 - z1 d2| = share x pi: opposed, each alone, and both signs."""
    each = share * np.pi / (z1 + z2)
    alone = share * np.pi
    pairs = [(each, -each), (alone / z2, 0.0), (0.0, alone / z1)]
    return pairs + [(-a, -b) for a, b in pairs]


@pytest.mark.parametrize(("z1", "z2"), PAIRS)
def test_just_inside_the_condition_every_angle_is_right(z1: int, z2: int) -> None:
    turn = positions(z1)
    for d1, d2 in worst_errors(z1, z2, 1.0 - 1e-9):
        assert vernier_is_unambiguous(d1, d2, z1, z2)
        found = vernier_angle_deg(*phases(turn, z1, z2, d1, d2), z1, z2)
        assert off_deg(found, turn, d1, z1).max() < 1e-10


@pytest.mark.parametrize(("z1", "z2"), [pair for pair in PAIRS if pair[0] > 1])
def test_just_outside_the_condition_every_angle_is_wrong_by_whole_pitches(z1: int, z2: int) -> None:
    turn = positions(z1)
    for d1, d2 in worst_errors(z1, z2, 1.0 + 1e-9):
        assert not vernier_is_unambiguous(d1, d2, z1, z2)
        found = vernier_angle_deg(*phases(turn, z1, z2, d1, d2), z1, z2)
        pitches = off_deg(found, turn, d1, z1) * z1 / 360.0
        assert pitches.min() > 0.999
        assert np.abs(pitches - np.rint(pitches)).max() < 1e-9


@given(
    z1=st.integers(2, 400),
    z2=st.integers(1, 400),
    turn=st.floats(0.0, 1.0),
    d1=st.floats(-0.1, 0.1),
    d2=st.floats(-0.1, 0.1),
)
def test_right_exactly_where_the_condition_holds(
    z1: int, z2: int, turn: float, d1: float, d2: float
) -> None:
    """Any coprime pair, place and errors; those within rounding of the limit left out."""
    combined = abs(z2 * d1 - z1 * d2)
    assume(gcd(z1, z2) == 1 and abs(combined - np.pi) > 1e-6 and combined < (2 * z1 - 1) * np.pi)
    at = np.array([turn])
    found = vernier_angle_deg(*phases(at, z1, z2, d1, d2), z1, z2)
    right = off_deg(found, at, d1, z1)[0] < 1e-8
    assert right == vernier_is_unambiguous(d1, d2, z1, z2)


def test_whole_turns_of_phase_do_not_matter() -> None:
    turn = positions(64)
    first, second = phases(turn, 64, 63)
    moved = vernier_pitch_number(first + 6.0 * np.pi, second - 2.0 * np.pi, 64, 63)
    assert np.array_equal(moved, vernier_pitch_number(first, second, 64, 63))


def test_a_phase_a_hair_below_zero_is_still_an_angle_of_one_turn() -> None:
    """Binary wraps it to 2 pi itself."""
    assert 0.0 <= vernier_angle_deg(-1e-18, -1e-18, 64, 63) < 360.0


@pytest.mark.parametrize(("z1", "z2"), [(64, 63), (64, 37), (101, 60)])
def test_an_error_common_to_both_rings_costs_nothing(z1: int, z2: int) -> None:
    """A mechanical error e of the shaft is z1 e and z2 e in the phases, however large."""
    turn, error = positions(z1), 0.3
    assert z1 * error > 10.0 * vernier.phase_tolerance_rad(z1, z2)
    found = vernier_angle_deg(*phases(turn, z1, z2, z1 * error, z2 * error), z1, z2)
    assert off_deg(found, turn, z1 * error, z1).max() < 1e-10


@pytest.mark.parametrize(("z1", "z2"), PAIRS)
def test_the_tolerances_are_the_condition_in_other_units(z1: int, z2: int) -> None:
    """Both errors at the phase tolerance, and rings apart by the ring tolerance, both meet pi."""
    each = vernier.phase_tolerance_rad(z1, z2)
    assert z2 * each - z1 * -each == pytest.approx(np.pi, rel=1e-14)
    apart = vernier.ring_tolerance_arcsec(z1, z2) / ARCSEC_PER_RAD
    assert z2 * (z1 * apart) - z1 * 0.0 == pytest.approx(np.pi, rel=1e-14)


def test_noise_limit_is_so_many_sigmas_of_the_combined_noise() -> None:
    """Drawn: a million pairs of phases at the limit for 3 sigmas fail as often as 3 sigmas do."""
    sigma = vernier.noise_limit_rad(64, 63, 3.0)
    assert sigma == 2.0 * vernier.noise_limit_rad(64, 63)
    d1, d2 = sigma * np.random.default_rng(7).standard_normal((2, 1_000_000))
    failed = np.mean(~vernier_is_unambiguous(d1, d2, 64, 63))
    # two-sided tail beyond 3 sigmas 0.0026998; a million draws scatter it by 5.2e-5
    assert failed == pytest.approx(0.0026998, abs=4 * 5.2e-5)


@pytest.mark.parametrize(("z1", "z2"), [(64, 63), (64, 56), (60, 45), (50, 50), (9, 3)])
def test_phases_repeat_after_the_unique_range_and_not_before(z1: int, z2: int) -> None:
    """Two rings stand alike where both have turned by whole pitches: looked for in 1/(z1 z2) turns."""
    steps = np.arange(1, z1 * z2 + 1)
    alike = (steps * z1 % (z1 * z2) == 0) & (steps * z2 % (z1 * z2) == 0)
    assert vernier_unique_turns(z1, z2) == steps[alike][0] / (z1 * z2)


@given(teeth=st.integers(1, 300), least=st.integers(1, 300), wide=st.integers(0, 60))
def test_best_partner_tolerates_most_of_its_window(teeth: int, least: int, wide: int) -> None:
    """Against every coprime count of the window, by both tolerances."""
    window = [z for z in range(least, least + wide + 1) if gcd(z, teeth) == 1]
    assume(window)
    found = vernier.best_vernier_partner(teeth, least, least + wide)
    assert found in window
    for tolerance in (vernier.ring_tolerance_arcsec, vernier.phase_tolerance_rad):
        assert tolerance(teeth, found) == max(tolerance(teeth, z) for z in window)


def test_best_partner_by_hand() -> None:
    """64 with 30 to 63: 30 is even, 31 is not; 60 shares with 50 to 58 but for 53."""
    assert vernier.best_vernier_partner(64, 30, 63) == 31
    assert vernier.best_vernier_partner(60, 50, 58) == 53
    assert isinstance(vernier.best_vernier_partner(64, 30, 63), int)


def test_arrays_give_what_numbers_give() -> None:
    first, second = phases(positions(64), 64, 63)
    for function in (vernier_pitch_number, vernier_angle_deg):
        each = [function(a, b, 64, 63) for a, b in zip(first, second, strict=True)]
        assert np.array_equal(function(first, second, 64, 63), np.array(each))
    assert isinstance(vernier_pitch_number(1.0, 2.0, 64, 63), int)
    z1, z2 = np.array([64, 101, 180]), np.array([63, 60, 179])
    of_teeth: tuple[Callable[[Any, Any], Any], ...] = (
        vernier.phase_tolerance_rad,
        vernier.ring_tolerance_arcsec,
        vernier.noise_limit_rad,
        vernier_unique_turns,
        lambda a, b: vernier_is_unambiguous(0.02, -0.02, a, b),
    )
    for tolerance in of_teeth:
        each = [tolerance(a, b) for a, b in zip(z1, z2, strict=True)]
        assert np.array_equal(tolerance(z1, z2), np.array(each))
    assert np.array_equal(
        vernier.best_vernier_partner(z1, 40, 90),
        np.array([vernier.best_vernier_partner(int(z), 40, 90) for z in z1]),
    )


SHARED = r"teeth1, teeth2: given 64, 56, allowed coprime counts \(these share 8\)"


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: vernier_pitch_number(1.0, 1.0, 64, 56), SHARED),
        (lambda: vernier_angle_deg(1.0, 1.0, 64, 56), SHARED),
        (lambda: vernier_is_unambiguous(0.0, 0.0, 64, 56), SHARED),
        (lambda: vernier.phase_tolerance_rad(64, 56), SHARED),
        (lambda: vernier.ring_tolerance_arcsec(np.array([63, 64]), 56), "teeth1, teeth2: given 63, 56"),
        (lambda: vernier.noise_limit_rad(64, 56), SHARED),
        (lambda: vernier.noise_limit_rad(64, 63, 0.0), "sigmas: given 0.0, allowed above 0"),
        (lambda: vernier_unique_turns(0, 63), "teeth1: given 0, allowed whole numbers from 1 up"),
        (lambda: vernier.phase_tolerance_rad(64, 62.5), "teeth2: given 62.5, allowed whole numbers"),
        (lambda: vernier.best_vernier_partner(0, 1, 9), "teeth: given 0, allowed whole numbers from 1 up"),
        (lambda: vernier.best_vernier_partner(64, 0, 9), "least, most: given 0, 9, allowed 1 <= least"),
        (lambda: vernier.best_vernier_partner(64, 9, 8), "least, most: given 9, 8, allowed 1 <= least"),
        (lambda: vernier.best_vernier_partner(60, 54, 58), "least, most: given 54, 58, allowed a window"),
    ],
)  # fmt: skip
def test_impossible_inputs_are_named(call: Callable[[], object], words: str) -> None:
    with pytest.raises(ValueError, match=f"^{words}"):
        call()
