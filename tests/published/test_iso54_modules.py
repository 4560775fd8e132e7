"""Module series of ISO 54:1996, DIN 780 and JIS B 1701-2.

ISO 54: Table 1, two unnamed transcriptions agree, and the encyclopedia article "Preferred metric
sizes" for series I. DIN 780: encyclopedia article de.wikipedia.org/wiki/Modul_(Zahnrad). JIS
B 1701-2 below 1 mm: values from an unnamed list, attribution from memory.
"""

import pytest

from ringset.standards.modules import (
    SERIES,
    standard_module_notes,
    standard_series_modules,
    standard_series_title,
)

ISO54_I = (1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10, 12, 16, 20, 25, 32, 40, 50)
ISO54_II = (
    *(1.125, 1.375, 1.75, 2.25, 2.75, 3.5, 4.5, 5.5, 6.5),
    *(7, 9, 11, 14, 18, 22, 28, 36, 45),
)
DIN780_I_FINE = (
    *(0.05, 0.06, 0.08, 0.1, 0.12, 0.16, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9),
)
DIN780_II_FINE = (
    *(0.055, 0.07, 0.09, 0.11, 0.14, 0.18, 0.22, 0.28, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95),
)
JIS_I_FINE = (0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.8)
JIS_II_FINE = (0.15, 0.25, 0.35, 0.45, 0.55, 0.7, 0.75, 0.9)

# From 1 mm up DIN 780 equals ISO 54, but for these: 60 in I, 55 and 70 in II, and no 6.5.
DIN780_I = (*DIN780_I_FINE, *ISO54_I, 60)
DIN780_II = (*DIN780_II_FINE, *(m for m in ISO54_II if m != 6.5), 55, 70)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("iso54_i", ISO54_I),
        ("iso54_i_ii", ISO54_I + ISO54_II),
        ("din780_i", DIN780_I),
        ("din780_i_ii", DIN780_I + DIN780_II),
        ("jis1701_i", JIS_I_FINE),
        ("jis1701_i_ii", JIS_I_FINE + JIS_II_FINE),
    ],
)
def test_series_holds_exactly_the_published_modules_ascending(
    name: str, expected: tuple[float, ...]
) -> None:
    """No module more, none less, in order."""
    assert standard_series_modules(name) == tuple(sorted(float(m) for m in expected))


def test_every_series_is_compared_above() -> None:
    """No series escapes the comparison."""
    assert set(SERIES) == {
        *("iso54_i", "iso54_i_ii", "din780_i", "din780_i_ii", "jis1701_i", "jis1701_i_ii"),
    }


def test_iso54_has_18_members_in_each_series_and_none_in_both() -> None:
    """Counts of ISO 54:1996 Table 1."""
    first, both = standard_series_modules("iso54_i"), standard_series_modules("iso54_i_ii")
    assert len(first) == 18
    assert len(both) == len(set(both)) == 36
    assert set(first) <= set(both)


@pytest.mark.parametrize("module_mm", [0.5, 0.8, 3.25, 3.75, 15, 30])
def test_modules_that_are_not_in_iso54(module_mm: float) -> None:
    """Modules that look standard and are not."""
    assert module_mm not in standard_series_modules("iso54_i_ii")


@pytest.mark.parametrize("module_mm", [0.7, 0.9, 60])
def test_modules_only_in_din780_series_i(module_mm: float) -> None:
    """Members of DIN 780 series I that no other list prefers."""
    assert module_mm in standard_series_modules("din780_i")
    assert module_mm not in standard_series_modules("iso54_i_ii")
    assert module_mm not in standard_series_modules("jis1701_i")


@pytest.mark.parametrize("module_mm", [55, 70])
def test_modules_only_in_din780_series_ii(module_mm: int) -> None:
    """Members of DIN 780 series II that ISO 54 lacks."""
    assert module_mm in standard_series_modules("din780_i_ii")
    assert module_mm not in standard_series_modules("din780_i")
    assert module_mm not in standard_series_modules("iso54_i_ii")


def test_module_6_5_is_in_iso54_to_be_avoided_and_not_in_din780() -> None:
    """The remark of ISO 54:1996 survives in the notes."""
    assert 6.5 in standard_series_modules("iso54_i_ii")
    assert standard_module_notes("iso54_i_ii") == {6.5: "to be avoided"}
    assert 6.5 not in standard_series_modules("din780_i_ii")


@pytest.mark.parametrize("module_mm", [0.25, 0.7, 0.9])
def test_first_choice_in_din780_is_second_choice_in_jis(module_mm: float) -> None:
    """A preference means nothing without its standard."""
    assert module_mm in standard_series_modules("din780_i")
    assert module_mm not in standard_series_modules("jis1701_i")
    assert module_mm in standard_series_modules("jis1701_i_ii")


def test_iso54_starts_at_one_millimetre_and_the_jis_part_ends_below_it() -> None:
    """The reach of the lists."""
    assert standard_series_modules("iso54_i_ii")[0] == 1.0
    assert standard_series_modules("jis1701_i_ii")[-1] < 1.0
    assert "below 1 mm only" in standard_series_title("jis1701_i")
