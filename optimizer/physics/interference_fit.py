"""A ring seated on a hub: pressure, stresses, grip, growth, temperature and assembly.

Two thick cylinders (Lame, plane stress), elastic, of constant section and equal length. Interference
is diametral and signed, negative is clearance; diameters in mm, stresses and pressures in MPa.
Every function takes numbers or arrays. Teeth are not counted: the ring ends at `outer_mm`.

Source of the Lame forms: tutorials on press and shrink fits to machine design textbooks, compared
with each other; worked cases in tests/published/test_shrink_fits.py.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ringset.physics.arguments import physics_above_zero, physics_zero_or_more
from ringset.physics.quantity import Quantity

#: Share of the roughness Rz of either face by which pressing flattens it, on the diameter.
#: DIN 7190 before 2017: 0.8; DIN 7190-1:2017: 0.4 (both quoted on an unnamed page); the safe one.
FLATTENED_SHARE = 0.8
#: Play on the diameter for joining a heated ring, as a share of the diameter. DIN 7190, from memory.
JOINING_PLAY_SHARE = 1e-3


@dataclass(frozen=True)
class Elastic:
    """What a body is made of: E in GPa above 0, Poisson's ratio, expansion in 1/K; numbers or arrays."""

    youngs_modulus_gpa: Quantity
    poisson: Quantity
    expansion_per_k: Quantity


@dataclass(frozen=True)
class Seat:
    """A ring of bore `seat_mm` and outer diameter `outer_mm` on a hub with a bore of its own.

    hub_bore_mm = 0 is a solid hub. Needs 0 <= hub_bore_mm < seat_mm < outer_mm, else ValueError.
    """

    seat_mm: Quantity
    outer_mm: Quantity
    hub_bore_mm: Quantity
    ring: Elastic
    hub: Elastic

    def __post_init__(self) -> None:
        """Refuse bodies without a wall."""
        physics_zero_or_more(hub_bore_mm=self.hub_bore_mm)
        for name, inner, outer, of in (
            ("hub_bore_mm", self.hub_bore_mm, self.seat_mm, "the seat"),
            ("seat_mm", self.seat_mm, self.outer_mm, "the ring's outer diameter"),
        ):
            inside = np.asarray(inner) < outer
            if not np.all(inside):
                raise ValueError(f"{name}: given {np.max(inner):g}, allowed below {of}")

    @property
    def ring_ratio(self) -> Quantity:
        """C_o = (D_o^2 + d^2) / (D_o^2 - d^2): hoop stress at the bore over the pressure."""
        outer, seat = np.asarray(self.outer_mm) ** 2, np.asarray(self.seat_mm) ** 2
        return np.asarray((outer + seat) / (outer - seat))[()]

    @property
    def hub_ratio(self) -> Quantity:
        """C_i = (d^2 + d_i^2) / (d^2 - d_i^2); 1 for a solid hub."""
        seat, bore = np.asarray(self.seat_mm) ** 2, np.asarray(self.hub_bore_mm) ** 2
        return np.asarray((seat + bore) / (seat - bore))[()]

    @property
    def thermal_mm_per_k(self) -> Quantity:
        """Interference gained per kelvin of warming of both: (alpha_hub - alpha_ring) d."""
        return (np.asarray(self.hub.expansion_per_k) - self.ring.expansion_per_k) * self.seat_mm


def pressure_mpa(seat: Seat, interference_mm: Quantity) -> Quantity:
    """Pressure between ring and hub in MPa; 0 for clearance.

    p = Delta / (d [(C_o + nu_o)/E_o + (C_i - nu_i)/E_i]). Interference Delta in mm on the diameter.

    A steel ring 100/150 on a solid shaft with 0.1 mm; a teaching page on shrink fits prints 58.3 MPa:

    >>> steel = Elastic(210.0, 0.3, 11.55e-6)
    >>> print(f"{pressure_mpa(Seat(100.0, 150.0, 0.0, steel, steel), 0.1):.1f}")
    58.3
    """
    soft = (seat.ring_ratio + seat.ring.poisson) / (1e3 * np.asarray(seat.ring.youngs_modulus_gpa))
    soft = soft + (seat.hub_ratio - np.asarray(seat.hub.poisson)) / (
        1e3 * np.asarray(seat.hub.youngs_modulus_gpa)
    )
    pressed = np.maximum(0.0, np.asarray(interference_mm))
    return np.asarray(pressed / (seat.seat_mm * soft))[()]


def interference_at_growth_mm(seat: Seat, bore_growth_mm: Quantity) -> Quantity:
    """Interference in mm that widens the ring's bore by `bore_growth_mm` on the diameter (inverse use)."""
    ring = (seat.ring_ratio + seat.ring.poisson) / np.asarray(seat.ring.youngs_modulus_gpa)
    hub = (seat.hub_ratio - np.asarray(seat.hub.poisson)) / seat.hub.youngs_modulus_gpa
    return np.asarray(bore_growth_mm * (ring + hub) / ring)[()]


@dataclass(frozen=True)
class Stresses:
    """Hoop stresses under a pressure: + is tension. `ring_mpa`, `hub_mpa`: largest equivalent."""

    ring_bore_mpa: Quantity
    ring_outer_mpa: Quantity
    hub_outer_mpa: Quantity
    hub_bore_mpa: Quantity
    ring_mpa: Quantity
    hub_mpa: Quantity


def stresses_mpa(seat: Seat, pressure: Quantity, ring_hoop_more_mpa: Quantity = 0.0) -> Stresses:
    """Return the hoop stresses of ring and hub under `pressure` in MPa, and the largest equivalent ones.

    Ring: p C_o at the bore (with -p radial), p (C_o - 1) outside. Hub: -p C_i at its outside,
    -p (C_i + 1) at its bore; a solid hub has -p everywhere. `ring_hoop_more_mpa` (rotation) adds to
    the hoop stress at the bore. Equivalent stress: von Mises in plane stress, sqrt(t^2 - t r + r^2): of the
    ring at its bore, where it is largest, of the hub the larger one of its two faces.

    The page of `pressure_mpa` prints 151.7 MPa at the bore:

    >>> steel = Elastic(210.0, 0.3, 11.55e-6)
    >>> print(f"{stresses_mpa(Seat(100.0, 150.0, 0.0, steel, steel), 58.33).ring_bore_mpa:.1f}")
    151.7
    """
    p = np.asarray(pressure)
    bore = p * seat.ring_ratio + ring_hoop_more_mpa
    solid = np.asarray(seat.hub_bore_mm) <= 0.0
    hub_outer = 0.0 - p * seat.hub_ratio
    hub_bore = 0.0 - np.where(solid, p, p * (seat.hub_ratio + 1.0))
    hub = np.maximum(equivalent_mpa(hub_outer, -p), np.where(solid, p, np.abs(hub_bore)))
    return Stresses(
        ring_bore_mpa=np.asarray(bore)[()],
        ring_outer_mpa=np.asarray(p * (seat.ring_ratio - 1.0))[()],
        hub_outer_mpa=np.asarray(hub_outer)[()],
        hub_bore_mpa=np.asarray(hub_bore)[()],
        ring_mpa=equivalent_mpa(bore, -p),
        hub_mpa=np.asarray(hub)[()],
    )


def equivalent_mpa(hoop_mpa: Quantity, radial_mpa: Quantity) -> Quantity:
    """Von Mises stress of two principal stresses (plane stress): sqrt(t^2 - t r + r^2); + is tension."""
    t, r = np.asarray(hoop_mpa), np.asarray(radial_mpa)
    return np.asarray(np.sqrt(t**2 - t * r + r**2))[()]


def outer_growth_mm(seat: Seat, pressure: Quantity) -> Quantity:
    """Growth in mm of the ring's outer radius under a pressure: u = p d^2 D_o / (E_o (D_o^2 - d^2))."""
    outer, bore = np.asarray(seat.outer_mm), np.asarray(seat.seat_mm)
    modulus = 1e3 * np.asarray(seat.ring.youngs_modulus_gpa)
    return np.asarray(pressure * bore**2 * outer / (modulus * (outer**2 - bore**2)))[()]


def slip_torque_nm(
    pressure: Quantity, seat_mm: Quantity, length_mm: Quantity, friction: Quantity
) -> Quantity:
    """Torque at which the ring slips: T = pi/2 d^2 L mu p, in N m (textbook friction joint).

    Seat d and length L in mm, pressure in MPa; `friction` mu >= 0, else ValueError. The page of
    `pressure_mpa` prints 6.87 kN m:

    >>> print(f"{slip_torque_nm(58.33, 100.0, 50.0, friction=0.15) / 1e3:.2f}")
    6.87
    """
    physics_zero_or_more(friction=friction)
    seat = np.asarray(seat_mm)
    return np.asarray(np.pi / 2e3 * seat**2 * length_mm * friction * pressure)[()]


def press_force_n(
    pressure: Quantity, seat_mm: Quantity, length_mm: Quantity, friction: Quantity
) -> Quantity:
    """Axial force that presses the ring fully on: F = pi d L mu p, in N; arguments as `slip_torque_nm`."""
    physics_zero_or_more(friction=friction)
    return np.asarray(np.pi * np.asarray(seat_mm) * length_mm * friction * pressure)[()]


def inertia_torque_nm(inertia_kg_m2: Quantity, acceleration_rad_s2: Quantity) -> Quantity:
    """Torque that turns the ring with its hub: T = J alpha, in N m."""
    return np.asarray(np.asarray(inertia_kg_m2) * acceleration_rad_s2)[()]


def interference_gripping_mm(interference_mm: Quantity, roughness_um: Quantity) -> Quantity:
    """Interference in mm left when pressing has flattened both faces of roughness Rz: -2 x 0.8 Rz.

    `roughness_um` >= 0, else ValueError. Source: see `FLATTENED_SHARE`.
    """
    physics_zero_or_more(roughness_um=roughness_um)
    return np.asarray(interference_mm - 2e-3 * FLATTENED_SHARE * np.asarray(roughness_um))[()]


def interference_warmed_mm(seat: Seat, interference_mm: Quantity, warmer_k: Quantity) -> Quantity:
    """Interference when ring and hub are `warmer_k` warmer than at assembly (colder: negative)."""
    return np.asarray(interference_mm + seat.thermal_mm_per_k * warmer_k)[()]


def temperature_range_k(
    seat: Seat, least_mm: Quantity, greatest_mm: Quantity, most_mm: Quantity
) -> tuple[Quantity, Quantity]:
    """Return how much colder and warmer (both from assembly, in K) ring and hub may get together.

    The tightest ring (`greatest_mm`) must not pass `most_mm`, the loosest (`least_mm`) must keep
    some interference. An end that equal expansion never reaches is infinite; a fit that fails at
    assembly already has (nan, nan). Linear in the temperature, closed form.
    """
    rate = np.broadcast_arrays(
        np.asarray(seat.thermal_mm_per_k, dtype=np.float64), least_mm, greatest_mm, most_mm
    )
    per_k, least, greatest, most = (np.array(values, dtype=np.float64) for values in rate)
    with np.errstate(divide="ignore", invalid="ignore"):
        loose, tight = -least / per_k, (most - greatest) / per_k
    grows = per_k > 0.0
    low = np.where(grows, loose, tight)
    high = np.where(grows, tight, loose)
    low, high = np.where(per_k == 0.0, -np.inf, low), np.where(per_k == 0.0, np.inf, high)
    sound = (least >= 0.0) & (greatest <= most)
    return np.where(sound, low, np.nan)[()], np.where(sound, high, np.nan)[()]


def most_interference_mm(seat: Seat, ring_mpa: Quantity, hub_mpa: Quantity) -> Quantity:
    """Largest interference in mm at which neither body passes its allowed equivalent stress in MPa."""
    at_one = stresses_mpa(seat, 1.0)  # everything is proportional to the pressure
    pressure = np.minimum(
        np.asarray(ring_mpa) / at_one.ring_mpa, np.asarray(hub_mpa) / at_one.hub_mpa
    )
    return np.asarray(pressure / pressure_mpa(seat, 1.0))[()]


def joining_warmer_k(seat: Seat, greatest_mm: Quantity) -> Quantity:
    """How much warmer than the hub the ring must be to drop on with play, in K; 0 with enough play.

    (Delta + d / 1000) / (alpha d): the play of a thousandth is common practice (DIN 7190, from memory). The
    ring's expansion alpha above 0, else ValueError.
    """
    physics_above_zero(expansion_per_k=seat.ring.expansion_per_k)
    needed = greatest_mm + JOINING_PLAY_SHARE * np.asarray(seat.seat_mm)
    warmer = np.asarray(needed) / (np.asarray(seat.ring.expansion_per_k) * seat.seat_mm)
    return np.maximum(0.0, warmer)[()]
