"""Makes the tables of `optimizer/physics/data/`: ranges of index curves by the exponent of their spectrum.

    python -m tests.physics.simulate_pitch_spectrum optimizer/physics/data

Takes some minutes. A curve has the orders 1 to P with amplitudes of a Rayleigh distribution that fall as
1/p^s and random phases: order p is (a cos p phi + b sin p phi) / p^s with normal a and b. All exponents
share the draws, so that the tables are smooth along s, and what is read from them is a quotient over s = 1.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from ringset.arrays import Floats

#: Exponents of both tables.
EXPONENTS = (0.5, 0.75, 1.0, 1.25, 1.5, 1.75, 2.0)
#: Orders P of the table of mean ranges, and of the worst shares.
RANGE_ORDERS = (
    1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48, 64, 96, 128, 192, 256, 384, 512, 1024, 2048, 4096,
)  # fmt: skip
WORST_ORDERS = (12, 48, 256)
HEADS = tuple(range(2, 9))
#: Samples that are drawn at once, and for one row of the table of ranges.
CHUNK, WHOLE = 1 << 22, 40_000_000
#: Worst shares for s = 1 and these orders, of an earlier run of 20,000 rings: they stay, and other exponents
#: are these times the quotient of this run.
BEFORE = {
    2: (0.910, 0.892, 0.876), 3: (0.705, 0.689, 0.680), 4: (0.560, 0.552, 0.549),
    5: (0.460, 0.455, 0.452), 6: (0.387, 0.385, 0.390), 7: (0.327, 0.325, 0.331),
    8: (0.288, 0.288, 0.290),
}  # fmt: skip
#: Places per wave of the highest order at which a curve is read.
PLACES = 8
SOURCE = "simulated by tests/physics/simulate_pitch_spectrum.py"


def ranges(
    parts: NDArray[np.complex64], exponent: float, every: int = 1, places: int = PLACES
) -> Floats:
    """Return the range of each curve, of all orders or of the multiples of `every` alone.

    `parts` (rings, P) complex: the drawn cosine and sine parts. Multiples of `every` repeat `every` times a
    turn, so one of their periods is enough. `places` per wave of the highest order.
    """
    orders = np.arange(every, parts.shape[1] + 1, every)
    waves = np.zeros((len(parts), len(orders) * places // 2 + 1), dtype=parts.dtype)
    waves[:, 1 : len(orders) + 1] = parts[:, orders - 1] * (orders**-exponent).astype(
        parts.real.dtype
    )
    count = len(orders) * places
    return np.asarray(np.ptp(fft.irfft(waves, count, axis=1), axis=1) * (count / 2.0))


def drawn(rng: np.random.Generator, rings: int, orders: int) -> NDArray[np.complex64]:
    """Return the parts of some rings, complex in single precision."""
    shape = (rings, orders)
    real, imaginary = (rng.standard_normal(shape, dtype=np.float32) for _ in range(2))
    return np.asarray(real + 1j * imaginary)


def mean_ranges(orders: int, rings: int, seed: int) -> Floats:
    """Return the mean range for every exponent, over that of endless orders and s = 1."""
    rng, found = np.random.default_rng(seed), []
    step = max(1, min(rings, CHUNK // (PLACES * orders)))
    for _ in range(-(-rings // step)):
        parts = drawn(rng, step, orders)
        found.append([ranges(parts, s).mean(dtype=np.float64) for s in EXPONENTS])
    return np.asarray(np.mean(found, axis=0) / np.pi**1.5)


def worst_shares(orders: int, rings: int, seed: int, level: float = 0.999) -> Floats:
    """Return the share that a `level` of rings do not pass, (exponents, head counts)."""
    rng = np.random.default_rng(seed)
    step = max(1, min(rings, CHUNK // (PLACES * orders)))
    kept: list[Floats] = []
    for _ in range(-(-rings // step)):
        parts = drawn(rng, step, orders)
        whole = np.array([ranges(parts, s) for s in EXPONENTS])
        left = [[ranges(parts, s, heads) for heads in HEADS] for s in EXPONENTS]
        kept.append(np.array(left) / whole[:, np.newaxis])
    return np.asarray(np.quantile(np.concatenate(kept, axis=2), level, axis=2))


def main(folder: Path) -> None:
    """Write both tables."""
    names = ",".join(f"s={s:g}" for s in EXPONENTS)
    lines = [f"orders,{names},source"]
    for orders in RANGE_ORDERS:
        rings = int(np.clip(WHOLE / (PLACES * orders), 2000, 100_000))
        row = mean_ranges(orders, rings, seed=orders)
        lines.append(f"{orders},{','.join(f'{x:.5f}' for x in row)},{SOURCE}")
        sys.stdout.write(lines[-1] + "\n")
    (folder / "pitch_ranges.csv").write_text("\n".join(lines) + "\n")
    lines = [f"orders,heads,{names},source"]
    middle = EXPONENTS.index(1.0)
    for place, orders in enumerate(WORST_ORDERS):
        table = worst_shares(orders, 100_000 if orders < 100 else 40_000, seed=1000 + orders)
        for i, heads in enumerate(HEADS):
            row = table[:, i] / table[middle, i] * BEFORE[heads][place]
            lines.append(f"{orders},{heads},{','.join(f'{x:.4f}' for x in row)},{SOURCE}")
            sys.stdout.write(lines[-1] + "\n")
    (folder / "worst_pitch_shares.csv").write_text("\n".join(lines) + "\n")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
