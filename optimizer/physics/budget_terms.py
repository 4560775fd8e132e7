"""The terms of the error budget: the shape of each, and whether it comes back at the same angle.

A term repeats if it has the same value each time the mounted joint passes the same angle. It then belongs to
accuracy alone: it moves the mean of the readings at an angle and not a single one of them away from that
mean. Whatever does not repeat belongs to accuracy and to repeatability (ISO 9283:1998 draws the same line
for whole robots, from memory). Where one input holds some of both, all of it counts as not repeating: the
safe side.

Heat also opens and closes the gap, and the errors that the channels keep grow and shrink with the signal.
The budget counts them at their worst gap, as accuracy. How far they drift between a cold joint and a warm one
is no scatter here: a repeatability is that of a joint at one temperature.

What is cut into the teeth comes back, the noise does not:

>>> TERMS["single_pitch"].repeats, TERMS["noise"].repeats, len(SCATTERING)
(True, False, 7)
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

_SINUSOID, _HALF_WIDTH, _SIGMA = float(1.0 / np.sqrt(2.0)), float(1.0 / np.sqrt(3.0)), 1.0


@dataclass(frozen=True)
class TermKind:
    """One term: standard uncertainty over amplitude, whether it repeats with the angle, and why."""

    factor: float
    repeats: bool
    because: str


#: Every term in the order of the report.
TERMS: dict[str, TermKind] = {
    "mounting_offset": TermKind(
        _SINUSOID, True, "The ring stays off centre where it was fastened, and turns with the joint."
    ),
    "mounting_offset_second": TermKind(
        _SINUSOID, True, "It is the second order of the same fixed offset."
    ),
    "tips_off_bore": TermKind(
        _SINUSOID, True, "Tips and bore are cut into the ring for good."
    ),
    "cumulative_pitch": TermKind(
        _SINUSOID, True, "The teeth stand where they were cut, all round the ring."
    ),
    "single_pitch": TermKind(
        _HALF_WIDTH, True, "The same tooth passes the head at the same angle, every time."
    ),
    "seat_ovality": TermKind(
        _SINUSOID, True, "The seat has bent the ring when it was fastened, and holds it so."
    ),
    "clamping": TermKind(
        _SINUSOID, True, "The lobes were cut into the ring while the jaws held it."
    ),
    "residual_offset": TermKind(
        _SINUSOID, True, "A correction leaves it in the channel, and the same angle is the same phase."
    ),
    "residual_gain": TermKind(
        _SINUSOID, True, "A correction leaves it in the channel, and the same angle is the same phase."
    ),
    "residual_quadrature": TermKind(
        _SINUSOID, True, "A correction leaves it in the channel, and the same angle is the same phase."
    ),
    "third_harmonic": TermKind(
        _SINUSOID, True, "It comes from the shape of the teeth, and the same angle is the same phase."
    ),
    "stray_field": TermKind(
        _SINUSOID, False, "It follows the currents of motor and brake, which change with the load."
    ),
    "noise": TermKind(_SIGMA, False, "Every reading has its own."),
    "quantisation": TermKind(
        _HALF_WIDTH, False,
        "Only the pattern of steps is fixed: where in a step a reading falls changes with the angle and "
        "the noise (safe side).",
    ),
    "bearing_shift": TermKind(
        _HALF_WIDTH, False,
        "Rolling elements come round at another place every turn, and load moves the axis; what of it does "
        "repeat is not stated apart (safe side).",
    ),
    "temperature_gradient": TermKind(
        _SINUSOID, False, "It comes and goes with the work that the joint does."
    ),
    "wobble": TermKind(
        _SINUSOID, False,
        "Bearing and load tilt the axis as they shift it; what of it does repeat is not stated apart "
        "(safe side).",
    ),
    "timing_jitter": TermKind(
        _HALF_WIDTH, False, "Every sample is taken too early or too late by another time."
    ),
}  # fmt: skip

#: The terms that do not repeat, of which the repeatability is made.
SCATTERING = tuple(name for name, kind in TERMS.items() if not kind.repeats)
