"""The rim as a thin ring: deflection under jaws, stiffness against lobes, ovality of the seat.

Checked against a Fourier sum, Castigliano's theorem by numeric integration, and a frame of straight
beams (finite elements), none of which share a formula with the package.
"""

from collections.abc import Callable

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.sparse import lil_matrix
from scipy.sparse.linalg import spsolve

from ringset.physics import curved_beam, rim_bending
from tests.support.narrow import array, number

FORCES = [2, 3, 4, 6, 8]
#: Poisson's ratio of steel.
NU = 0.3


@pytest.mark.parametrize("forces", FORCES)
def test_deflections_equal_a_fourier_sum(forces: int) -> None:
    """n point forces are a series of cosine line loads, and each bends the ring on its own.

    Textbook: q cos(k phi) gives w = q R^4 / (E I (k^2 - 1)^2).
    """
    force, radius, stiffness = 120.0, 45.0, 3.0e6
    orders = forces * np.arange(1, 2001)
    line_load = forces * force / (np.pi * radius)
    lobes = line_load * radius**4 / (stiffness * (orders**2 - 1.0) ** 2)
    at_force, midway = rim_bending.n_force_deflection_mm(forces, force, radius, stiffness)
    # 2000 terms falling as k^-4: the rest is below 1e-10 of the sum.
    assert at_force == pytest.approx(lobes.sum(), rel=1e-9)
    assert midway == pytest.approx(-np.sum(lobes * (-1.0) ** np.arange(1, 2001)), rel=1e-9)


@pytest.mark.parametrize("forces", FORCES)
def test_deflections_equal_castigliano_by_quadrature(forces: int) -> None:
    """Bending energy of the half spacing between force and midway, with unit loads.

    The cut midway carries no shear and the hoop force W / (2 sin h); its moment follows from no
    rotation there. The unit load midway has the same moment line, mirrored.
    """
    force, radius, stiffness = 120.0, 45.0, 3.0e6
    half = np.pi / forces
    hoop = 1.0 / (2.0 * np.sin(half))
    at_cut = quad(lambda turn: np.cos(turn), 0.0, half)[0] / half * hoop

    def moment(turn: float) -> float:  # of a unit force and unit radius, turn counted from midway
        return float(at_cut - hoop * np.cos(turn))

    own = 2.0 * quad(lambda turn: moment(turn) ** 2, 0.0, half)[0]
    cross = 2.0 * quad(lambda turn: moment(turn) * moment(half - turn), 0.0, half)[0]
    common = force * radius**3 / stiffness
    at_force, midway = rim_bending.n_force_deflection_mm(forces, force, radius, stiffness)
    # The closed form cancels two nearly equal numbers, about 1e-3 of each for n = 8.
    assert at_force == pytest.approx(common * own, rel=1e-9)
    assert midway == pytest.approx(-common * cross, rel=1e-9)


def _frame_radial(load_on_node: np.ndarray, radius: float, stiffness: float) -> np.ndarray:
    """Radial displacements of a ring of straight Euler beams under radial node forces.

    The hoop stiffness is a million times E I / R^2, so that only bending counts. Three supports
    hold the ring against rigid motion; the load is in balance, so they carry nothing.
    """
    count = len(load_on_node)
    turn = 2.0 * np.pi * np.arange(count) / count
    length = 2.0 * radius * np.sin(np.pi / count)
    bend, stretch = stiffness / length**3, 1e6 * stiffness / radius**2 / length
    k = np.zeros((6, 6))
    k[np.ix_([0, 3], [0, 3])] = stretch * np.array([[1, -1], [-1, 1]])
    k[np.ix_([1, 2, 4, 5], [1, 2, 4, 5])] = bend * np.array(
        [
            [12, 6 * length, -12, 6 * length],
            [6 * length, 4 * length**2, -6 * length, 2 * length**2],
            [-12, -6 * length, 12, -6 * length],
            [6 * length, 2 * length**2, -6 * length, 4 * length**2],
        ]
    )
    whole = lil_matrix((3 * count, 3 * count))
    for i in range(count):
        j = (i + 1) % count
        along = turn[i] + np.pi / count + np.pi / 2.0
        cos, sin = np.cos(along), np.sin(along)
        t = np.kron(np.eye(2), np.array([[cos, sin, 0], [-sin, cos, 0], [0, 0, 1]]))
        at = np.r_[3 * i : 3 * i + 3, 3 * j : 3 * j + 3]
        whole[np.ix_(at, at)] += t.T @ k @ t
    force = np.zeros(3 * count)
    force[0::3], force[1::3] = load_on_node * np.cos(turn), load_on_node * np.sin(turn)
    moved = np.zeros(3 * count)
    moved[3:] = spsolve(whole.tocsc()[3:, 3:], force[3:])
    return moved[0::3] * np.cos(turn) + moved[1::3] * np.sin(turn)


@pytest.mark.parametrize("order", [2, 3, 4])
def test_lobe_stiffness_equals_a_frame_of_beams(order: int) -> None:
    """Line load cos(k phi) on 240 straight beams; the k-th lobe of what they move."""
    radius, stiffness, count = 45.0, 3.0e6, 240
    wave = np.cos(order * 2.0 * np.pi * np.arange(count) / count)
    moved = _frame_radial(wave * 2.0 * np.pi * radius / count, radius, stiffness)
    # Rigid motion is order 1 and drops out of the projection on order k.
    lobe = 2.0 * np.mean(moved * wave)
    # Chords for arcs: of order (pi k / 240)^2, 3e-3 at k = 4.
    expected = pytest.approx(1.0 / lobe, rel=3e-3)
    assert rim_bending.lobe_stiffness_n_per_mm2(order, radius, stiffness) == expected


def test_three_jaws_bend_a_frame_of_beams_alike() -> None:
    """Three inward forces on 240 straight beams: towards each force, away midway."""
    radius, stiffness, count = 45.0, 3.0e6, 240
    load = np.zeros(count)
    load[[0, 80, 160]] = -120.0
    moved = _frame_radial(load, radius, stiffness)
    turn = 2.0 * np.pi * np.arange(count) / count
    for rigid in (np.cos(turn), np.sin(turn)):
        moved = moved - 2.0 * np.mean(moved * rigid) * rigid
    at_force, midway = rim_bending.n_force_deflection_mm(3, 120.0, radius, stiffness)
    # Chords for arcs, as above.
    assert moved[[0, 80, 160]] == pytest.approx([-at_force] * 3, rel=3e-3)
    assert moved[[40, 120, 200]] == pytest.approx([midway] * 3, rel=3e-3)


@pytest.mark.parametrize("forces", FORCES)
def test_lobe_stiffness_rebuilds_the_point_forces(forces: int) -> None:
    """Both functions describe one ring: the sum of lobes is the deflection at a force."""
    orders = [forces * j for j in range(1, 500)]
    line_load = forces * 120.0 / (np.pi * 45.0)
    total = sum(line_load / rim_bending.lobe_stiffness_n_per_mm2(k, 45.0, 3.0e6) for k in orders)
    # 499 terms falling as k^-4: the rest is below 1e-8.
    assert rim_bending.n_force_deflection_mm(forces, 120.0, 45.0, 3.0e6)[0] == pytest.approx(
        total, rel=1e-7
    )


def test_more_jaws_bend_less_at_equal_force() -> None:
    """Both deflections fall with the number of forces and stay positive."""
    at_force, midway = np.array(
        [rim_bending.n_force_deflection_mm(n, 100.0, 50.0, 1e6) for n in range(2, 25)]
    ).T
    assert np.all(np.diff(at_force) < 0.0)
    assert np.all(np.diff(midway) < 0.0)
    assert np.all((midway > 0.0) & (midway < at_force))


def test_clamping_lobe_is_half_of_peak_to_valley() -> None:
    """Mean of both deflections, on the mean radius, with E in GPa and E b t^3 / 12."""
    bore, thick, width, modulus = 84.0, 6.0, 8.0, 210.0
    stiffness = rim_bending.bending_stiffness_n_mm2(width, thick, modulus)
    assert stiffness == pytest.approx(210000.0 * 8.0 * 216.0 / 12.0, rel=1e-12)
    at_force, midway = rim_bending.n_force_deflection_mm(3, 500.0, 45.0, stiffness)
    lobe = number(rim_bending.clamping_lobe_mm(3, 500.0, bore, thick, width, modulus, NU))
    rim = curved_beam.Rim(bore, thick, width, modulus, NU)
    thick_ring = curved_beam.n_force_deflection_mm(3, 500.0, rim)
    assert lobe == pytest.approx(sum(thick_ring) / 2.0, rel=1e-12)
    # R / t = 7.5: hoop force and shear add 4.6 % to the lobes of the thin ring
    assert lobe / number((at_force + midway) / 2.0) == pytest.approx(1.046, abs=0.001)


def test_clamping_lobe_falls_with_the_cube_of_the_rim() -> None:
    """Mean radius held at 50 mm: a rim twice as thick leaves an eighth, more if it is thick itself."""
    thick = np.array([0.0125, 0.025, 0.05])
    lobe = rim_bending.clamping_lobe_mm(3, 500.0, 100.0 - thick, thick, 8.0, 210.0, NU)
    # what hoop force and shear add goes by (t / R)^2
    assert array(lobe)[:-1] / array(lobe)[1:] == pytest.approx([8.0, 8.0], rel=1e-5)
    thick = np.array([1.5, 3.0, 6.0, 12.0, 24.0])
    lobe = rim_bending.clamping_lobe_mm(3, 500.0, 100.0 - thick, thick, 8.0, 210.0, NU)
    falls = array(lobe)[:-1] / array(lobe)[1:]
    assert np.all(np.diff(falls) < 0.0)
    assert np.all(falls < 8.0)


def test_clamping_lobe_grows_with_force_and_falls_with_width_and_modulus() -> None:
    """Linear laws, one input at a time."""
    base = rim_bending.clamping_lobe_mm(3, 500.0, 90.0, 5.0, 8.0, 210.0, NU)
    assert rim_bending.clamping_lobe_mm(3, 1500.0, 90.0, 5.0, 8.0, 210.0, NU) == pytest.approx(
        3.0 * base
    )
    assert rim_bending.clamping_lobe_mm(3, 500.0, 90.0, 5.0, 16.0, 210.0, NU) == pytest.approx(
        base / 2.0
    )
    assert rim_bending.clamping_lobe_mm(3, 500.0, 90.0, 5.0, 8.0, 70.0, NU) == pytest.approx(
        3.0 * base
    )
    # Radius cubed: (95/2 = 47.5 to 95 mm) at the same section, less what shear and hoop force add.
    wide = rim_bending.clamping_lobe_mm(3, 500.0, 185.0, 5.0, 8.0, 210.0, NU)
    assert wide == pytest.approx(8.0 * base, rel=0.03)
    assert wide < 8.0 * base


def test_ring_follows_a_stiff_seat_and_resists_a_soft_one() -> None:
    """Limits 1 and 0 of the transmitted share, and between them springs in series."""
    rim = curved_beam.Rim(90.0, 5.0, 8.0, 210.0, NU)
    ring = curved_beam.lobe_stiffness_n_per_mm2(2, rim)
    stiff, soft, equal, none = (
        rim_bending.transmitted_ovality(seat, 90.0, 5.0, 8.0, 210.0, NU)
        for seat in (1e9 * ring, 1e-9 * ring, ring, 0.0)
    )
    assert stiff == pytest.approx(1.0, abs=2e-9)
    assert soft == pytest.approx(1e-9, rel=1e-6)
    assert equal == pytest.approx(0.5, rel=1e-12)
    assert none == 0.0
    # Two springs in series carry one load: what the ring takes plus what the seat gives is all.
    seat = 3.0 * ring
    load = 1.0 / (1.0 / seat + 1.0 / ring)
    assert rim_bending.transmitted_ovality(seat, 90.0, 5.0, 8.0, 210.0, NU) == pytest.approx(
        load / ring
    )


def test_transmitted_ovality_falls_as_the_cube_of_a_thick_rim() -> None:
    """A soft seat: the share is k_seat / k_ring, so an eighth at twice the rim, same radius."""
    thick = np.array([0.05, 0.1])
    share = rim_bending.transmitted_ovality(1e-12, 100.0 - thick, thick, 8.0, 210.0, NU)
    # The seat's own share is 1e-8 of the ring's stiffness or less; hoop force and shear add (t / R)^2.
    assert array(share)[0] / array(share)[1] == pytest.approx(8.0, rel=2e-5)
    thick = np.array([0.5, 1.0, 2.0, 4.0, 8.0])
    any_seat = rim_bending.transmitted_ovality(10.0, 100.0 - thick, thick, 8.0, 210.0, NU)
    assert np.all(np.diff(any_seat) < 0.0)


def test_arrays_equal_numbers() -> None:
    """One call for many rings gives what many calls give."""
    bore, thick = np.array([40.0, 80.0, 160.0]), np.array([3.0, 6.0, 9.0])
    lobes = rim_bending.clamping_lobe_mm(3, 400.0, bore, thick, 8.0, 210.0, NU)
    shares = rim_bending.transmitted_ovality(50.0, bore, thick, 8.0, 210.0, NU)
    for i in range(3):
        b, t = float(bore[i]), float(thick[i])
        # Array powers may differ in the last bit.
        assert array(lobes)[i] == pytest.approx(
            rim_bending.clamping_lobe_mm(3, 400.0, b, t, 8.0, 210.0, NU), rel=1e-13
        )
        assert array(shares)[i] == pytest.approx(
            rim_bending.transmitted_ovality(50.0, b, t, 8.0, 210.0, NU), rel=1e-13
        )


@pytest.mark.parametrize("few", [1, 0, -3])
def test_fewer_than_two_forces_or_lobes_are_refused(few: int) -> None:
    """One force does not balance; order 1 is a shift and order 0 a stretch."""
    with pytest.raises(ValueError, match=f"forces: given {few}"):
        rim_bending.n_force_deflection_mm(few, 100.0, 50.0, 1e6)
    with pytest.raises(ValueError, match=f"forces: given {few}"):
        rim_bending.clamping_lobe_mm(few, 100.0, 90.0, 5.0, 8.0, 210.0, NU)
    with pytest.raises(ValueError, match=f"order: given {few}"):
        rim_bending.lobe_stiffness_n_per_mm2(few, 50.0, 1e6)


@pytest.mark.parametrize("forces", [2, 3, 4, 6, 12])
def test_moments_by_statics_and_closure(forces: int) -> None:
    """A segment from midway to a force: W/(2 sin h) pulls there, and the ring closes: mean moment 0."""
    half = np.pi / forces
    at_force, midway = rim_bending.n_force_moments_n_mm(forces, 7.0, 30.0)
    pull = 7.0 / (2.0 * np.sin(half))
    assert at_force + midway == pytest.approx(pull * 30.0 * (1.0 - np.cos(half)), rel=1e-12)
    angle = np.linspace(0.0, half, 20001)
    moment = pull * 30.0 * (1.0 - np.cos(angle)) - midway
    assert np.trapezoid(moment, angle) == pytest.approx(0.0, abs=1e-6 * number(at_force))


def test_stress_in_the_jaws_is_moment_over_section_modulus() -> None:
    """Two jaws, 100 N, mean radius 50 mm, 8 wide: 100 x 50 / pi over 8 t^2 / 6 N/mm^2 where t is small."""
    for thick, near in ((0.005, 1e-4), (5.0, 0.04)):
        stress = rim_bending.clamping_stress_mpa(2, 100.0, 100.0 - thick, thick, 8.0)
        plain = 100.0 * 50.0 / np.pi / (8.0 * thick**2 / 6.0)
        assert stress == pytest.approx(plain, rel=near)
        assert stress > plain  # the inner edge of a curved bar bears more


def test_frequency_from_energy() -> None:
    """Rayleigh's quotient of a ring without stretch: w cos(k a), v = -w/k sin(k a), summed numerically."""
    radius, thick, width, modulus, density = 0.053, 0.006, 0.008, 210e9, 7850.0
    a = np.linspace(0.0, 2.0 * np.pi, 4000, endpoint=False)
    for k in (2, 3, 5):
        w, v = np.cos(k * a), -np.sin(k * a) / k
        bend = (1.0 - k**2) * w / radius**2  # change of curvature (w'' + w) / R^2
        stiff = modulus * width * thick**3 / 12.0 * np.mean(bend**2)
        heavy = density * width * thick * np.mean(w**2 + v**2)
        wanted = np.sqrt(stiff / heavy) / (2.0 * np.pi)
        assert rim_bending.ring_frequency_hz(k, 100.0, 6.0, 210.0, 7850.0) == pytest.approx(
            wanted, 1e-9
        )


@pytest.mark.parametrize("call", [
    lambda: rim_bending.n_force_moments_n_mm(1, 1.0, 1.0),
    lambda: rim_bending.ring_frequency_hz(1, 1.0, 1.0, 1.0, 1.0),
])  # fmt: skip
def test_fewer_than_two_are_refused(call: Callable[[], object]) -> None:
    with pytest.raises(ValueError, match="given 1, allowed 2 or more"):
        call()
