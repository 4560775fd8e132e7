"""Cutter sets and materials: errors, arrays, labels, one source per value."""

import dataclasses

import numpy as np
import pytest

from ringset.standards._tables import read_standard_table
from ringset.standards.cutters import (
    standard_disc_label,
    standard_disc_range_index,
    standard_disc_set,
)
from ringset.standards.materials import MATERIALS, standard_material


@pytest.mark.parametrize("name", ["disc_8", "disc_15"])
def test_index_of_an_array_equals_scalars(name: str) -> None:
    """And is the range that holds the tooth count."""
    teeth = np.arange(12, 400)
    indices = standard_disc_range_index(name, teeth)
    assert indices.dtype == np.int64
    for z, index in zip(teeth.tolist(), indices.tolist(), strict=True):
        alone = standard_disc_range_index(name, z)
        assert type(alone) is int
        assert alone == index
        low, high = standard_disc_set(name)[index]
        assert low <= z <= (high or 400)


def test_ranges_by_hand() -> None:
    """The first, an inner and the last range of the small set."""
    assert standard_disc_set("disc_8")[0] == (12, 13)
    assert standard_disc_set("disc_8")[6] == (55, 134)
    assert standard_disc_set("disc_8")[7] == (135, None)


@pytest.mark.parametrize("teeth", [11, 0, -20, np.array([60, 11])])
def test_too_few_teeth_are_refused(teeth: int) -> None:
    """No cutter of either set mills fewer than twelve."""
    with pytest.raises(ValueError, match="disc_15 mills 12 teeth and more, given"):
        standard_disc_range_index("disc_15", teeth)


@pytest.mark.parametrize("teeth", [60.0, 60.5, np.array([60.0]), float("nan")])
def test_tooth_counts_must_be_integers(teeth: int) -> None:
    """A float here is a slip of the caller, such as a pitch diameter."""
    with pytest.raises(ValueError, match="teeth must be integers"):
        standard_disc_range_index("disc_8", teeth)


def test_unknown_set_is_refused() -> None:
    """By every function, naming the two sets."""
    for call in (
        lambda: standard_disc_set("disc_9"),
        lambda: standard_disc_range_index("disc_9", 60),
        lambda: standard_disc_label("disc_9", 0),
    ):
        with pytest.raises(ValueError, match="'disc_9' is not known; allowed: disc_8, disc_15"):
            call()


def test_labels() -> None:
    """Ranges first, then both numbers with their convention."""
    assert standard_disc_label("disc_8", 6) == "55..134 teeth (No. 2 inch-style, No. 7 metric)"
    assert standard_disc_label("disc_8", 7) == "135 teeth and more (No. 1 inch-style, No. 8 metric)"
    assert standard_disc_label("disc_15", 1) == "13 teeth (No. 7.5 inch-style, No. 1.5 metric)"


@pytest.mark.parametrize("index", [-1, 8])
def test_label_index_out_of_range_is_refused(index: int) -> None:
    """A negative index must not count from the end."""
    with pytest.raises(ValueError, match=rf"index of disc_8 must lie in 0\.\.7, given {index}"):
        standard_disc_label("disc_8", index)


def test_material_by_key() -> None:
    """The key leads to the material, a wrong one to the list of keys."""
    assert list(MATERIALS) == [
        *("c45", "42crmo4", "11smn30", "x6cr17", "pure_iron", "en_aw_6082_t6", "x5crni18_10"),
    ]
    for key, value in MATERIALS.items():
        assert standard_material(key) is value
        assert value.key == key
    with pytest.raises(ValueError, match="'C45' is not known; allowed: c45, 42crmo4"):
        standard_material("C45")


def test_materials_cannot_be_changed() -> None:
    """A material is shared by all callers."""
    with pytest.raises(dataclasses.FrozenInstanceError):
        MATERIALS["c45"].poisson = 0.5  # type: ignore[misc]


def test_units_of_every_value() -> None:
    """Orders of magnitude that a slip of a unit would leave."""
    for value in MATERIALS.values():
        assert 2000.0 < value.density_kg_per_m3 < 9000.0
        assert 50.0 < value.youngs_modulus_gpa < 250.0
        assert 0.25 < value.poisson < 0.35
        assert 9e-6 < value.expansion_per_k < 25e-6


def test_source_names_the_origin_of_each_of_the_five_values() -> None:
    """Text per value, honest about memory."""
    for value in MATERIALS.values():
        names = [part.split(":")[0] for part in value.source.split("; ")]
        for name in ("density", "youngs modulus", "poisson", "expansion", "ferromagnetic"):
            assert name in names
    assert "expansion: unnamed handbook range, from memory" in MATERIALS["c45"].source
    assert "density: unnamed data sheets quoting DIN EN 10083-2" in MATERIALS["c45"].source


@pytest.mark.parametrize(
    "name",
    [
        *("modules.csv", "iso286_it.csv", "iso286_deviations.csv"),
        *("form_cutters.csv", "materials.csv"),
    ],
)
def test_every_row_of_every_table_names_its_source(name: str) -> None:
    """A number without a source is not data."""
    rows = read_standard_table(name)
    assert rows
    assert all(row["source"] for row in rows)
