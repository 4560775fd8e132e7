"""Reading the published tables in tests/data; every row names its source."""

import csv

from tests.support.places import DATA

#: One row of a published table: text by the name of its column.
Row = dict[str, str]


def read_rows(name: str) -> list[Row]:
    """Return the rows of tests/data/<name>, which must not be empty."""
    with (DATA / name).open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    assert rows, f"{name} is empty: nothing would be tested"
    return rows
