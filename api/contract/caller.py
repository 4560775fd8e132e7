"""Who calls, as the gateway tells it to the routes."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass
class Caller:
    """Who calls: `holder` owns what is submitted; empty where no key is asked for."""

    holder: str = ""
    name: str = ""
