"""How far a reading lags behind a turning joint, and how often it must be taken.

A lag that is known is no error: only what two channels, two joints or two samples do not share is.
Equal corners in both channels are a pure delay and can be taken out with the speed; unequal ones are
a quadrature error that grows with it. Speeds are in revolutions per minute; turning the other way
(negative) turns the lag round.
"""

from __future__ import annotations

import numpy as np

from ringset.physics import resolution
from ringset.physics.arguments import physics_above_zero
from ringset.physics.quantity import ARCSEC_PER_RAD, Quantity

#: Samples below which a pitch cannot be told from its neighbour: half a pitch per sample.
UNWRAPPING_SAMPLES_PER_PITCH = 2.0
#: Samples per pitch with room for noise and acceleration: 4 to 8 is common practice (unnamed).
RECOMMENDED_SAMPLES_PER_PITCH = 8.0

#: 1 rpm is 6 degrees per second, so 0.0216 arcsec per microsecond.
_ARCSEC_PER_RPM_US = 6.0 * 3600.0 * 1e-6


def low_pass_gain(frequency_hz: Quantity, corner_hz: Quantity) -> Quantity:
    """Amplitude behind a first-order low pass over that before it: 1 / sqrt(1 + (f/f_c)^2).

    corner_hz > 0, else ValueError. Source: linear circuit theory, closed form.
    """
    physics_above_zero(corner_hz=corner_hz)
    return 1.0 / np.hypot(1.0, np.asarray(frequency_hz) / corner_hz)


def low_pass_loss(frequency_hz: Quantity, corner_hz: Quantity) -> Quantity:
    """Share of the amplitude that a first-order low pass takes away, 1 - gain, exact when tiny.

    corner_hz > 0, else ValueError.
    """
    physics_above_zero(corner_hz=corner_hz)
    ratio = np.asarray(frequency_hz) / corner_hz
    return -np.expm1(-0.5 * np.log1p(ratio**2))


def electrical_lag_rad(frequency_hz: Quantity, corner_hz: Quantity) -> Quantity:
    """Phase lag in electrical rad behind a first-order low pass: atan(f / f_c), below pi / 2.

    corner_hz > 0, else ValueError.
    """
    physics_above_zero(corner_hz=corner_hz)
    return np.arctan(np.asarray(frequency_hz) / corner_hz)


def low_pass_lag_arcsec(teeth: Quantity, speed_rpm: Quantity, corner_hz: Quantity) -> Quantity:
    """Lag of the joint angle in arcsec behind a first-order low pass: atan(f/f_c) / z, f = z n / 60.

    Far below the corner it is omega tau whatever the tooth count, tau = `low_pass_delay_us`.
    teeth > 0 and corner_hz > 0, else ValueError. Linear circuit theory, closed form.

    >>> print(f"{low_pass_lag_arcsec(180, speed_rpm=60.0, corner_hz=10e3):.2f}")
    20.62
    >>> print(f"{latency_lag_arcsec(60.0, low_pass_delay_us(10e3)):.2f}")
    20.63
    """
    physics_above_zero(teeth=teeth)
    rate = resolution.tooth_rate_hz(teeth, speed_rpm)
    return electrical_lag_rad(rate, corner_hz) / teeth * ARCSEC_PER_RAD


def low_pass_delay_us(corner_hz: Quantity) -> Quantity:
    """Delay in us of a first-order low pass far below its corner: tau = 1 / (2 pi f_c).

    corner_hz > 0, else ValueError.
    """
    physics_above_zero(corner_hz=corner_hz)
    return 1e6 / (2.0 * np.pi * np.asarray(corner_hz))


def latency_lag_arcsec(speed_rpm: Quantity, latency_us: Quantity) -> Quantity:
    """Angle in arcsec that a joint turns between sampling and use: omega T.

    latency_us >= 0, else ValueError. Holds while the speed stays the same over the latency.

    >>> print(f"{latency_lag_arcsec(30.0, 62.5):.1f}")  # 180 degrees per second
    40.5
    """
    if not np.all(np.asarray(latency_us) >= 0.0):
        raise ValueError(f"latency_us: given {np.min(latency_us)}, allowed 0 or more")
    return np.asarray(speed_rpm) * latency_us * _ARCSEC_PER_RPM_US


def jitter_error_arcsec(speed_rpm: Quantity, jitter_us: Quantity) -> Quantity:
    """Error in arcsec that is left of a known latency: omega dt, dt its jitter (half width).

    jitter_us >= 0, else ValueError.
    """
    if not np.all(np.asarray(jitter_us) >= 0.0):
        raise ValueError(f"jitter_us: given {np.min(jitter_us)}, allowed 0 or more")
    return latency_lag_arcsec(speed_rpm, jitter_us)


def least_sampling_hz(
    tooth_rate_hz: Quantity, samples_per_pitch: Quantity = RECOMMENDED_SAMPLES_PER_PITCH
) -> Quantity:
    """Sampling rate in Hz that follows `tooth_rate_hz`: samples per pitch times tooth rate.

    Unwrapping takes the shorter way from sample to sample and so needs less than half a pitch per
    sample (sampling theorem): samples_per_pitch must be more than 2, else ValueError. Nothing here guards
    against harmonics of the tooth shape: they need a filter below half the sampling rate.
    """
    if not np.all(np.asarray(samples_per_pitch) > UNWRAPPING_SAMPLES_PER_PITCH):
        raise ValueError(
            f"samples_per_pitch: given {np.min(samples_per_pitch)}, "
            f"allowed more than {UNWRAPPING_SAMPLES_PER_PITCH:g} (unwrapping)"
        )
    return np.abs(tooth_rate_hz) * samples_per_pitch
