"""How many calls of one name pass: token buckets."""

from __future__ import annotations

import time
from collections import OrderedDict


class TokenBuckets:
    """Token buckets by name: `burst` calls at once, `rate_per_s` on the average."""

    def __init__(self, rate_per_s: float, burst: int, most: int = 10_000) -> None:
        self.rate, self.burst, self.most = rate_per_s, burst, most
        self._left: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def take(self, name: str) -> float:
        """Take a call; returns 0, or the seconds to wait where there is none left."""
        if self.rate <= 0.0:
            return 0.0
        now = time.monotonic()
        left, since = self._left.pop(name, (float(self.burst), now))
        left = min(float(self.burst), left + (now - since) * self.rate)
        short = max(0.0, (1.0 - left) / self.rate)
        self._left[name] = (left - 1.0 if short == 0.0 else left, now)
        while len(self._left) > self.most:
            self._left.popitem(last=False)
        return short
