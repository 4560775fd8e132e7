"""Reading the published tables in tests/data, whose every row names its source, and printed numbers."""

import csv
from typing import Any

import pytest

from tests.support.places import DATA

#: One row of a published table: text by the name of its column.
Row = dict[str, str]


def read_rows(name: str) -> list[Row]:
    """Return the rows of tests/data/<name>, which must not be empty."""
    with (DATA / name).open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    assert rows, f"{name} is empty: nothing would be tested"
    return rows


def printed(text: str) -> Any:
    """What is printed as `text`, to half its last digit (and binary dust)."""
    digits = len(text.split(".")[1]) if "." in text else 0
    return pytest.approx(float(text), abs=0.5 * 10.0**-digits * (1.0 + 1e-9))
