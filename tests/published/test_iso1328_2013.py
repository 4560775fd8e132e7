"""Flank tolerances of ISO 1328-1:2013.

The formulas stand in two independent unnamed transcriptions that agree; the standard itself was
not seen. "Asserted" below marks values printed in one of the transcriptions' own checks; all
other numbers were computed from the closed formulas, so they guard against slips in this code,
not against a slip in the transcriptions.
"""

import math

import pytest

from ringset.standards.iso1328 import (
    iso1328_cumulative_pitch_um,
    iso1328_helix_form_um,
    iso1328_helix_slope_um,
    iso1328_helix_total_um,
    iso1328_profile_form_um,
    iso1328_profile_slope_um,
    iso1328_profile_total_um,
    iso1328_round_um,
    iso1328_runout_um,
    iso1328_single_pitch_um,
)
from tests.published.tables import Row, read_rows

ROWS = read_rows("iso1328_2013_checks.csv")
OF_MODULE = {
    "f_pT": iso1328_single_pitch_um,
    "F_pT": iso1328_cumulative_pitch_um,
    "F_rT": iso1328_runout_um,
    "f_H_alpha_T": iso1328_profile_slope_um,
    "f_f_alpha_T": iso1328_profile_form_um,
    "F_alpha_T": iso1328_profile_total_um,
}
OF_WIDTH = {
    "f_H_beta_T": iso1328_helix_slope_um,
    "f_f_beta_T": iso1328_helix_form_um,
    "F_beta_T": iso1328_helix_total_um,
}


@pytest.mark.parametrize(
    "row", ROWS, ids=lambda r: f"{r['quantity']}-m{r['m_mm']}-z{r['z']}-class{r['class']}"
)
def test_every_row_of_the_check_table(row: Row) -> None:
    """Unrounded to the last printed digit, and rounded exactly."""
    quantity, flank_class = row["quantity"], int(row["class"])
    if quantity in OF_MODULE:
        value = OF_MODULE[quantity](float(row["d_mm"]), float(row["m_mm"]), flank_class)
    else:
        value = OF_WIDTH[quantity](float(row["d_mm"]), float(row["b_mm"]), flank_class)
    assert value == pytest.approx(float(row["unrounded_um"]), abs=0.0005)
    assert iso1328_round_um(value) == float(row["rounded_um"])


def test_the_check_table_reaches_every_formula() -> None:
    """All nine tolerances occur among the 63 rows."""
    assert {row["quantity"] for row in ROWS} == {*OF_MODULE, *OF_WIDTH}
    assert len(ROWS) == 63


# class, m, z: f_pT, F_pT, F_alpha_T, F_rT, each unrounded and rounded. First line: f, F and
# F_alpha asserted in a transcription, F_r computed. The others computed.
@pytest.mark.parametrize(
    ("flank_class", "m", "z", "single", "cumulative", "profile", "runout"),
    [
        (6, 3, 40, ("8.938", 9), ("28.80", 29), ("12.044", 12), ("25.92", 26)),
        (5, 1, 50, ("5.45", 5.5), ("16.689", 17), ("7.114", 7.0), ("15.02", 15)),
        (5, 1, 100, ("5.50", 5.5), ("18.40", 18), ("7.145", 7.0), ("16.56", 17)),
        (7, 2, 29, ("11.716", 12), ("35.409", 35), ("15.596", 16), ("31.868", 32)),
        (6, 0.5, 200, ("7.495", 7.5), ("25.527", 26), ("9.625", 9.5), ("22.974", 23)),
        (5, 1, 199, ("5.599", 5.5), ("20.857", 21), ("7.208", 7.0), ("18.771", 19)),
        (4, 0.8, 256, ("3.907", 3.9), ("14.737", 15), ("5.003", 5.0), ("13.263", 13)),
        (6, 1, 256, ("7.999", 8.0), ("31.130", 31), ("10.245", 10), ("28.017", 28)),
    ],
)
def test_rings_of_eight_sizes(
    flank_class: int,
    m: float,
    z: int,
    single: tuple[str, float],
    cumulative: tuple[str, int],
    profile: tuple[str, float],
    runout: tuple[str, int],
) -> None:
    """Pitch, profile and runout of typical rings, unrounded and rounded."""
    for function, (printed, rounded) in (
        (iso1328_single_pitch_um, single),
        (iso1328_cumulative_pitch_um, cumulative),
        (iso1328_profile_total_um, profile),
        (iso1328_runout_um, runout),
    ):
        value = function(m * z, m, flank_class)
        half_last_digit = 0.5 * 10.0 ** -len(printed.split(".")[1])
        assert value == pytest.approx(float(printed), abs=half_last_digit)
        assert iso1328_round_um(value) == rounded


def test_helix_tolerances_of_a_100_mm_ring_10_mm_wide() -> None:
    """Slope, form and total of class 5, computed."""
    values = [function(100.0, 10.0, 5) for function in OF_WIDTH.values()]
    assert values == pytest.approx([5.607, 6.123, 8.302], abs=0.0005)
    assert [iso1328_round_um(value) for value in values] == [5.5, 6.0, 8.5]


# Asserted in a transcription of clause 5.2.3.
@pytest.mark.parametrize(
    ("value", "rounded"),
    [(12.49, 12.0), (10.4, 10.0), (7.3, 7.5), (7.2, 7.0), (4.96, 5.0), (4.94, 4.9)],
)
def test_rounding_of_clause_5_2_3(value: float, rounded: float) -> None:
    """Whole um above 10, halves from 5 to 10, tenths below 5."""
    assert iso1328_round_um(value) == rounded


# F_pT as an angle on the pitch circle, F / (d/2), computed.
@pytest.mark.parametrize(
    ("flank_class", "z", "arcsec"), [(5, 100, 75.9), (5, 199, 43.2), (6, 256, 50.2)]
)
def test_cumulative_pitch_as_an_angle(flank_class: int, z: int, arcsec: float) -> None:
    """The index tolerance in the unit an encoder is judged by."""
    index_um = iso1328_cumulative_pitch_um(float(z), 1.0, flank_class)
    angle_rad = index_um * 1e-3 / (z / 2.0)
    assert math.degrees(angle_rad) * 3600.0 == pytest.approx(arcsec, abs=0.05)


def test_edition_2013_is_continuous_where_edition_1995_steps() -> None:
    """A millimetre more of diameter must not change the tolerance by a third.

    m = 1, class 5, computed: 19.10 at d = 125 and 19.13 at 126. The 1995 edition
    gives 18.41 and 24.40, because d = 125 is a limit of its ranges.
    """
    assert iso1328_cumulative_pitch_um(125.0, 1.0, 5) == pytest.approx(19.10, abs=0.005)
    assert iso1328_cumulative_pitch_um(126.0, 1.0, 5) == pytest.approx(19.13, abs=0.005)
    assert _edition_1995(125.0, 1.0)["F_p"] == pytest.approx(18.41, abs=0.005)
    assert _edition_1995(126.0, 1.0)["F_p"] == pytest.approx(24.40, abs=0.005)


def _edition_1995(d: float, m: float) -> dict[str, float]:
    """Grade 5 of ISO 1328-1:1995 (runout: ISO 1328-2:1997 Annex B), unrounded, in um.

    Three unnamed transcriptions agree on the formulas; D and M are geometric means of the range
    limits, and the upper limit belongs to the range.
    """

    def mean(value: float, limits: list[float]) -> float:
        upper = next(limit for limit in limits if value <= limit)
        return math.sqrt(limits[limits.index(upper) - 1] * upper)

    big_d = mean(d, [5, 20, 50, 125, 280, 560, 1000])
    big_m = mean(m, [0.5, 2, 3.5, 6, 10]) if m > 0.5 else math.sqrt(0.5 * 2)
    root_d = math.sqrt(big_d)
    cumulative = 0.3 * big_m + 1.25 * root_d + 7
    return {
        "F_p": cumulative,
        "f_p": 0.3 * (big_m + 0.4 * root_d) + 4,
        "F_r": 0.8 * cumulative,
        "F_alpha": 3.2 * math.sqrt(big_m) + 0.22 * root_d + 0.7,
    }


# Unrounded ratio 2013 / 1995 at equal number, computed: m, d, then F_p, f_p, F_r, F_alpha.
@pytest.mark.parametrize(
    ("m", "d", "ratios"),
    [
        (0.5, 25, (1.057, 1.050, 1.189, 1.316)),
        (1, 60, (0.928, 1.017, 1.044, 1.216)),
        (1, 100, (0.999, 1.025, 1.124, 1.220)),
        (1, 126, (0.784, 0.930, 0.882, 1.037)),
        (1, 200, (0.856, 0.943, 0.963, 1.043)),
        (2, 100, (1.037, 1.099, 1.167, 1.336)),
        (2, 400, (0.783, 0.927, 0.881, 0.968)),
    ],
)
def test_ratio_to_the_edition_of_1995(m: float, d: int, ratios: tuple[float, ...]) -> None:
    """The formulas of both editions, in ratios that were computed apart from this code."""
    old = _edition_1995(d, m)
    new = (
        iso1328_cumulative_pitch_um(d, m, 5),
        iso1328_single_pitch_um(d, m, 5),
        iso1328_runout_um(d, m, 5),
        iso1328_profile_total_um(d, m, 5),
    )
    got = [value / old[name] for value, name in zip(new, old, strict=True)]
    assert got == pytest.approx(list(ratios), abs=0.0005)
