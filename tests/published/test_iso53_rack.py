"""Basic racks of ISO 53:1998 and the ring sizes that follow from them.

ISO 53: two unnamed transcriptions agree. Ring sizes: d and d_a of m 2, z 24 are printed in the
encyclopedia article de.wikipedia.org/wiki/Modul_(Zahnrad); the other sizes were computed from the
rack by hand, each row of tests/data/worked_examples.csv says so.
"""

import pytest

from ringset.physics.geometry import least_teeth_without_undercut
from ringset.standards.racks import RACKS, standard_largest_fillet
from tests.published.tables import Row, read_rows


# ISO 53:1998, alpha = 20 deg, h_a* = 1: type, h_f*, c*, rho_f*
@pytest.mark.parametrize(
    ("name", "dedendum", "clearance", "root_fillet"),
    [
        ("full", 1.25, 0.25, 0.38),
        ("full_b", 1.25, 0.25, 0.30),
        ("full_c", 1.25, 0.25, 0.25),
        ("full_d", 1.40, 0.40, 0.39),
    ],
)
def test_iso53_types(name: str, dedendum: float, clearance: float, root_fillet: float) -> None:
    """The four types of the standard."""
    rack = RACKS[name]
    assert (rack.pressure_angle_deg, rack.addendum) == (20.0, 1.0)
    assert (rack.dedendum, rack.root_fillet) == (dedendum, root_fillet)
    # Exact in decimals; 1e-12 leaves room for binary subtraction only.
    assert rack.clearance == pytest.approx(clearance, abs=1e-12)


def test_stub_rack_from_memory() -> None:
    """Common stub proportions, from memory: 0.8 and 1.0, so 1.8 modules deep."""
    rack = RACKS["stub"]
    assert (rack.pressure_angle_deg, rack.addendum, rack.dedendum) == (20.0, 0.8, 1.0)
    assert rack.whole_depth == pytest.approx(1.8, abs=1e-12)
    assert "from memory" in rack.source


def test_whole_depth_of_the_standard_rack_and_of_the_fine_module_practice() -> None:
    """A fine-module cutter may cut deeper than the standard rack.

    2.25 modules: ISO 53:1998 type A. 2.4 modules for fine modules: a page of inch and metric notes
    prints it; that it is the practice of BS 4582 is from memory.
    """
    assert RACKS["full"].whole_depth == pytest.approx(2.25, abs=1e-12)
    assert RACKS["full_d"].whole_depth == pytest.approx(2.4, abs=1e-12)


def _sizes() -> list[Row]:
    rows = [row for row in read_rows("worked_examples.csv") if row["topic"] == "ring sizes"]
    assert len(rows) == 21
    return rows


@pytest.mark.parametrize("row", _sizes(), ids=lambda row: f"{row['id']}-{row['quantity']}")
def test_ring_sizes_from_the_standard_rack(row: Row) -> None:
    """d = m z; d_a = m (z + 2 h_a* + 2 x); d_f = m (z - 2 h_f* + 2 x)."""
    m, z, x = (float(part.split("=")[1]) for part in row["inputs"].split(";"))
    rack = RACKS["full"]
    beyond = {"d": 0.0, "d_a": 2 * (rack.addendum + x), "d_f": 2 * (x - rack.dedendum)}
    # The values are exact; 1e-9 mm is binary rounding.
    expected = pytest.approx(float(row["value"]), abs=1e-9)
    assert m * (z + beyond[row["quantity"]]) == expected


def _rack_row(identity: str) -> tuple[float, float]:
    (row,) = (row for row in read_rows("worked_examples.csv") if row["id"] == identity)
    return float(row["value"]), float(row["tolerance"])


def test_fillet_bound_of_clearance_one_quarter() -> None:
    """ISO 53:1998 fillet bound; 0.37995 is also printed in an unnamed transcription."""
    value, tolerance = _rack_row("G7")
    assert standard_largest_fillet(0.25, 1.25, 20.0) == pytest.approx(value, abs=tolerance)


def test_fillets_of_types_a_to_c_keep_the_bound() -> None:
    """Printed fillets against the bound, type A by rounding only."""
    bound = standard_largest_fillet(0.25, 1.25, 20.0)
    assert RACKS["full_b"].root_fillet <= bound
    assert RACKS["full_c"].root_fillet <= bound
    # Type A is printed 0.38, the bound rounded to two decimals.
    assert RACKS["full"].root_fillet > bound
    assert RACKS["full"].root_fillet == round(bound, 2)
    stub = RACKS["stub"]
    assert stub.root_fillet <= standard_largest_fillet(stub.clearance, stub.dedendum, 20.0)


def test_both_fillet_formulas_meet_where_the_standard_changes_over() -> None:
    """No step in the bound between the two formulas.

    At c* = 0.295, h_f* = 1.295. The two lines cross at c* = 0.29509 (computed), so the printed
    change-over to three decimals leaves less than 5e-4 between them.
    """
    low = standard_largest_fillet(0.295, 1.295, 20.0)
    high = standard_largest_fillet(0.2951, 1.2951, 20.0)
    assert high == pytest.approx(low, abs=5e-4)
    # Below it the clearance decides: 0.28 / (1 - sin 20 deg) (computed).
    assert standard_largest_fillet(0.28, 1.28, 20.0) == pytest.approx(0.42554, abs=5e-6)
    # Beyond it the room between the flanks decides: pi/4 - 1.35 tan 20 deg = 0.294038, over
    # tan 35 deg = 0.700208 gives 0.41993 (computed).
    assert standard_largest_fillet(0.35, 1.35, 20.0) == pytest.approx(0.41993, abs=5e-6)


def test_type_d_lies_outside_the_fillet_bounds() -> None:
    """Its clearance of 0.40 is above the 0.396 the second formula is printed for."""
    rack = RACKS["full_d"]
    with pytest.raises(ValueError, match=r"up to 0\.396"):
        standard_largest_fillet(rack.clearance, rack.dedendum, rack.pressure_angle_deg)


def test_undercut_limit() -> None:
    """Textbook formula z = 2 (1 - x) / sin^2 alpha; 17.097 computed."""
    value, tolerance = _rack_row("G8")
    # Without a fillet the whole depth of one module is straight.
    assert least_teeth_without_undercut(1.0, 0.0, 0.0, 20.0) == pytest.approx(value, abs=tolerance)
    shifted = least_teeth_without_undercut(1.0, 0.0, 0.5, 20.0)
    assert shifted == pytest.approx(value / 2, abs=tolerance)
