"""Tooth ranges of disc-type involute milling cutters.

Eight-cutter ranges and inch-style numbers: thresholds of a teaching simulation after US Army
TC 9-524 chapter 8. Metric numbers and the fifteen-cutter set: handbook tables, from memory.
"""

import itertools
import math

import pytest

from ringset.standards.cutters import (
    DISC_SETS,
    standard_disc_label,
    standard_disc_range_index,
    standard_disc_set,
)
from tests.published.tables import Row, read_rows
from tests.support.narrow import present

ROWS = read_rows("form_cutters.csv")


@pytest.mark.parametrize(
    "row", ROWS, ids=lambda row: f"{row['set']}-{row['numbering']}-{row['number']}"
)
def test_every_cutter_of_both_numberings(row: Row) -> None:
    """Both ends of a range lead to its cutter, and its label prints both numbers."""
    low, high = int(row["z_min"]), int(row["z_max"]) if row["z_max"] else None
    index = standard_disc_set(row["set"]).index((low, high))
    assert standard_disc_range_index(row["set"], low) == index
    assert standard_disc_range_index(row["set"], high or 5000) == index
    style = {"inch": "inch-style", "metric": "metric"}[row["numbering"]]
    label = standard_disc_label(row["set"], index)
    assert f"No. {row['number']} {style}" in label
    assert label.startswith(str(low))


def test_the_table_covers_every_cutter_in_both_numberings() -> None:
    """A lost row of the table would be a check not made."""
    assert len(ROWS) == 2 * (8 + 15)
    assert len({(row["set"], row["numbering"], row["number"]) for row in ROWS}) == 46


@pytest.mark.parametrize(("name", "count"), [("disc_8", 8), ("disc_15", 15)])
def test_sets_cover_twelve_teeth_to_the_rack_without_gap_or_overlap(name: str, count: int) -> None:
    """Every tooth count from 12 up has exactly one cutter."""
    ranges = standard_disc_set(name)
    assert len(ranges) == count
    assert ranges[0][0] == 12
    assert ranges[-1][1] is None
    for (_, end), (start, _) in itertools.pairwise(ranges):
        assert start == present(end) + 1


def test_the_large_set_splits_every_range_of_the_small_one_but_the_last() -> None:
    """The fifteen-cutter set adds one start inside each range of the eight, except 135 and up."""
    starts = {low for low, _ in standard_disc_set("disc_15")}
    assert {low for low, _ in standard_disc_set("disc_8")} <= starts
    for low, high in standard_disc_set("disc_8"):
        inside = [start for start in starts if low < start <= (high or 10**6)]
        # 135 and up stays whole; every other range of the small set holds several tooth counts.
        assert len(inside) == (0 if high is None else 1)


def test_metric_number_is_nine_minus_the_inch_number() -> None:
    """The reversed order, from memory, holds for the half numbers too."""
    for name in DISC_SETS:
        inch = {
            r["z_min"]: r["number"] for r in ROWS if (r["set"], r["numbering"]) == (name, "inch")
        }
        for row in ROWS:
            if (row["set"], row["numbering"]) == (name, "metric"):
                assert float(row["number"]) == 9.0 - float(inch[row["z_min"]])


#: Smallest tooth counts of sixteen cutters from 12 to 300 teeth, truncated, as J. Rose, Modern
#: Machine-Shop Practice, prints them (k = 1 to 16).
ROSE = (12, 13, 14, 15, 17, 18, 20.6, 23, 26, 30, 35, 42, 54, 75, 120, 300)


def willis(k: int, cutters: int, z_min: int, z_max: int) -> float:
    """Equal-error spacing (Willis, in the same book): z_min n / (n - k + z_min k / z_max)."""
    return z_min * cutters / (cutters - k + z_min * k / z_max)


def test_willis_spacing_gives_the_row_of_the_book() -> None:
    """The printed row is truncated to whole teeth, 20.6 to a tenth; k = 15 of 16 is 120 exactly."""
    assert willis(15, 16, 12, 300) == pytest.approx(120.0)
    for k, value in enumerate(ROSE, start=1):
        step = 0.1 if value == 20.6 else 1.0
        assert 0.0 <= willis(k, 16, 12, 300) - value < step


def test_the_large_set_is_spaced_as_willis_says() -> None:
    """Fifteen cutters, from memory: each starts where the row of the book does, within an eighth."""
    starts = [low for low, _ in standard_disc_set("disc_15")]
    for start, value in zip(starts, ROSE[:15], strict=True):
        assert 1.0 <= start / math.floor(value) <= 9.0 / 8.0


def test_rings_that_share_a_cutter() -> None:
    """z = 60 and 130 of one module share a cutter, 130 and 140 do not."""
    assert standard_disc_range_index("disc_8", 60) == standard_disc_range_index("disc_8", 130)
    assert standard_disc_range_index("disc_8", 130) != standard_disc_range_index("disc_8", 140)
