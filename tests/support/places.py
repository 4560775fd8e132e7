"""Where the checkout keeps what tests read."""

from pathlib import Path

ROOT = Path(__file__).parents[2]
SCENARIOS = ROOT / "scenarios"
DATA = ROOT / "tests" / "data"
