"""ISO 2768-1 general tolerances, screws and clearance holes, rim factors: against unnamed tables."""

import pytest

from ringset.physics import face_bolting, geometry, rim_bending
from ringset.standards import iso2768, screws
from ringset.standards.preferred_numbers import PREFERRED_MM
from tests.published.tables import Row, printed, read_rows

ROWS = read_rows("iso2768_1.csv")
LOOK_UP = {
    "linear_mm": iso2768.iso2768_linear_mm,
    "edge_mm": iso2768.iso2768_edge_mm,
    "angle_arcmin": iso2768.iso2768_angle_arcmin,
}


@pytest.mark.parametrize("row", ROWS, ids=lambda r: f"{r['class']}-{r['kind']}-{r['over_mm']}")
def test_every_cell(row: Row) -> None:
    """Just above the lower end and at the upper end of each range (sources in the table)."""
    look_up = LOOK_UP[row["kind"]]
    value = float(row["plus_minus"])
    assert look_up(float(row["over_mm"]) + 1e-3, row["class"]) == value
    assert look_up(float(row["upto_mm"] or 5000.0), row["class"]) == value


# The table of the issue of 1989 as a JIS B 0405 extract and unnamed test values print it, class by
# class: +- mm for 0.5..3, 3..6, 6..30, 30..120, 120..400, 400..1000, 1000..2000.
@pytest.mark.parametrize(
    ("tolerance_class", "values"),
    [
        ("f", (0.05, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5)),
        ("m", (0.1, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2)),
        ("c", (0.2, 0.3, 0.5, 0.8, 1.2, 2, 3)),
        ("v", (None, 0.5, 1, 1.5, 2.5, 4, 6)),
    ],
)
def test_lengths(tolerance_class: str, values: tuple[float | None, ...]) -> None:
    for size, value in zip((2, 5, 20, 100, 200, 700, 1500), values, strict=True):
        if value is not None:
            assert iso2768.iso2768_linear_mm(size, tolerance_class) == value


def test_the_upper_limit_belongs_to_the_range_and_both_ends_are_kept() -> None:
    """30 mm is +-0.2 in class m (unnamed test values)."""
    assert iso2768.iso2768_linear_mm(30.0, "m") == 0.2
    assert iso2768.iso2768_linear_mm(30.000001, "m") == 0.3
    assert iso2768.iso2768_linear_mm(0.5, "m") == 0.1


@pytest.mark.parametrize(
    ("size", "tolerance_class"), [(0.49, "m"), (0.0, "m"), (2.9, "v"), (2001.0, "f"), (-3.0, "c")]
)
def test_sizes_without_a_value_are_refused(size: float, tolerance_class: str) -> None:
    with pytest.raises(ValueError, match="ISO 2768-1, given"):
        iso2768.iso2768_linear_mm(size, tolerance_class)


def test_an_unknown_class_is_refused() -> None:
    with pytest.raises(ValueError, match="'x' is not known; allowed: f, m, c, v"):
        iso2768.iso2768_linear_mm(10.0, "x")


# ISO 273 medium holes (an unnamed table quoting it); heads of ISO 4762 (an unnamed university table);
# tensile stress areas of ISO 898-1 from M3 up (a public sheet of fastener properties).
@pytest.mark.parametrize(
    ("size", "hole", "head", "area"),
    [
        ("M2", 2.4, 3.8, None),
        ("M2.5", 2.9, 4.5, None),
        ("M3", 3.4, 5.5, "5.03"),
        ("M4", 4.5, 7.0, "8.78"),
        ("M5", 5.5, 8.5, "14.2"),
        ("M6", 6.6, 10.0, "20.1"),
        ("M8", 9.0, 13.0, "36.6"),  # areas of M8 to M12 from memory
        ("M10", 11.0, 16.0, "58.0"),
        ("M12", 13.5, 18.0, "84.3"),
    ],
)
def test_screws(size: str, hole: float, head: float, area: str | None) -> None:
    held = screws.standard_screw(size)
    assert (held.clearance_mm, held.head_mm) == (hole, head)
    if area is not None:
        assert face_bolting.stress_area_mm2(held.thread_mm, held.pitch_mm) == printed(area)


def test_every_screw_is_compared_and_unknown_ones_are_refused() -> None:
    assert len(screws.SCREWS) == 9
    with pytest.raises(ValueError, match=r"'M7' is not known; allowed: M2, M2\.5"):
        screws.standard_screw("M7")


@pytest.mark.parametrize(
    ("ratio", "factor"),
    [
        (0.5, "2.4008"), (0.6, "2.1091"), (0.8, "1.6488"), (1.0, "1.2918"), (1.1, "1.1393"),
        (1.2, "1.0000"), (3.0, "1.0000"),
    ],
)  # fmt: skip
def test_rim_factor_of_external_teeth(ratio: float, factor: str) -> None:
    """AGMA K_B, computed; at 1.2 itself it is 1 (the formula would give 1.0001)."""
    assert rim_bending.rim_factor_external(ratio * 2.25, 2.25) == printed(factor)


def test_the_rim_that_supports_its_teeth_fully() -> None:
    """1.2 depths of 2.25 modules: bore up to m (z - 7.9), 92.1 for m 1, z 100 (computed)."""
    for bore, whole in ((92.1, True), (92.2, False)):
        left = float(geometry.rim_thickness_mm(97.5, bore))
        assert (rim_bending.rim_factor_external(left + 1e-12, 2.25) == 1.0) == whole


# Rounded lists of ISO 497 (from memory; to 2.5 of R20 also in the design note of the list itself).
R10_ROUNDED = (1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8)
R20_ROUNDED = (*(1, 1.1, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3, 3.5, 4, 4.5, 5, 5.5, 6, 7, 8, 9),)


def test_preferred_sizes_hold_the_rounded_series() -> None:
    """University of Plymouth, Standardisation and Preferred Sizes: one decade of each list in it."""
    assert set(R10_ROUNDED) | set(R20_ROUNDED) <= set(PREFERRED_MM)
    assert {10.0 * size for size in R10_ROUNDED if size not in (1.5,)} <= set(PREFERRED_MM)
    assert list(PREFERRED_MM) == sorted(set(PREFERRED_MM))
    assert (len(PREFERRED_MM), PREFERRED_MM[0], PREFERRED_MM[-1]) == (63, 0.05, 300.0)


def test_rounded_sizes_lie_near_the_powers_of_ten() -> None:
    """ISO 3: R10 is 10^(i/10); the more rounded values of ISO 497 lie within 6 % (computed)."""
    for i, size in enumerate(R10_ROUNDED):
        assert size == pytest.approx(10.0 ** (i / 10.0), rel=0.06)
    for i, size in enumerate(R20_ROUNDED):
        assert size == pytest.approx(10.0 ** (i / 20.0), rel=0.06)


@pytest.mark.parametrize(
    ("ratio", "factor"), [(2.0, "1.6399"), (2.5, "1.3833"), (3.0, "1.1736"), (3.5, "1.0000")]
)
def test_rim_factor_of_internal_teeth(ratio: float, factor: str) -> None:
    """ISO 6336-3 Y_B, computed; at 3.5 itself it is 1 (the formula would give 0.9963)."""
    assert rim_bending.rim_factor_internal(ratio * 2.0, 2.0) == printed(factor)
