"""Screws in a hub of the user's own material: no table knows their thread, and all sheets say so."""

from __future__ import annotations

import pytest

from ringset.drawing.frame import Release
from ringset.drawing.ring_sheet import ring_sheet
from ringset.export.tables import export_screw_lines
from ringset.manufacturing.part_data import shop_data
from ringset.standards.screws import SCREWS, standard_engagement_mm, standard_longest_engagement_mm
from tests.drawing.test_sheets import sound
from tests.export.test_screw_orders import arm, drawn, texts
from tests.support.narrow import present
from tests.support.own_materials import as_stated
from tests.support.studies import Json

OWN = "own_42"
KNOWN = ("c45", "42crmo4", "11smn30", "x6cr17", "x5crni18_10", "en_aw_6082_t6", "pure_iron")


def own_ring(**held: object) -> Json:
    """Return the arm whose ring, and so whose hub if none is named, is of the user's own material."""
    data = arm(**held)
    data["shop"].update(material=OWN, materials={OWN: as_stated("42crmo4")})
    return data


@pytest.mark.parametrize("size", SCREWS)
def test_the_longest_is_that_of_no_material_less(size: str) -> None:
    assert standard_longest_engagement_mm(size) == max(
        standard_engagement_mm(size, key) for key in KNOWN
    )


@pytest.mark.parametrize("hub", [None, OWN])
def test_a_hub_of_own_material_takes_the_longest_thread_of_the_table_and_says_so(
    hub: str | None,
) -> None:
    study, answer, (part,) = drawn(own_ring(**({} if hub is None else {"hub_material": hub})))
    screws = present(answer.ring_parts[0].screws)
    (line,) = export_screw_lines([part])
    assert line["hub_material"] == OWN
    assert line["engaged_in_hub_min_mm"] == 2.0 * SCREWS[screws.size].thread_mm
    sheet = ring_sheet(part, Release())
    sound(sheet)
    said = " ".join(" ".join(texts(sheet)).split())
    assert f"no length of thread is known for {OWN}" in said
    assert "by its material: common practice" not in said
    screwed, fitted = shop_data(study, answer)[0].mounting
    assert present(screwed.screws).engagement_known is False
    assert any(note.startswith("no length of thread") for note in screwed.notes)
    # a fit holds the other joint: the note on screws is none of its business
    assert not any(note.startswith("no length of thread") for note in fitted.notes)


def test_a_hub_of_the_table_keeps_its_own_length() -> None:
    study, answer, (part,) = drawn(own_ring(hub_material="c45"))
    screws = present(answer.ring_parts[0].screws)
    (line,) = export_screw_lines([part])
    assert line["engaged_in_hub_min_mm"] == SCREWS[screws.size].thread_mm
    assert present(shop_data(study, answer)[0].mounting[0].screws).engagement_known is True
    assert "no length of thread" not in " ".join(texts(ring_sheet(part, Release())))


def test_a_ring_of_own_material_without_screws_or_hub_has_its_sheet() -> None:
    data = own_ring()
    data["robots"][0]["joints"] = data["robots"][0]["joints"][1:]
    _, _, (part,) = drawn(data)
    said = " ".join(texts(ring_sheet(part, Release())))
    assert "no length of thread" not in said
