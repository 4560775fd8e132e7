"""Names in letters that the font of the sheets lacks: a question mark each, nothing for what joins them."""

from __future__ import annotations

import json

import pytest

from ringset.drawing.lettering import printable, width
from ringset.export.bundle import sheets
from ringset.schema.loading import load_study
from ringset.solving.pipeline import solve
from tests.support.places import SCENARIOS

SCENARIO = SCENARIOS / "two_joint_table.json"


@pytest.mark.parametrize(
    ("name", "shown"),
    [
        ("arm \U0001f9be", "arm ?"),
        ("\U0001f469\u200d\U0001f527", "??"),  # a joined picture
        ("\u2699\ufe0f gear", "? gear"),
        ("\U0001f44d\U0001f3fd", "?"),  # a picture with its tint
        ("e\u0301", "e"),
        ("Gelenk ü", "Gelenk ü"),
    ],
)
def test_letters_that_the_font_lacks(name: str, shown: str) -> None:
    assert printable(name, "Vera") == shown
    assert width(name, 3.0) == width(shown, 3.0)


def test_sheets_of_names_in_pictures_are_made() -> None:
    data = json.loads(SCENARIO.read_text())
    data["title"] = "\U0001f916 table"
    data["robots"][0]["name"] = "arm \U0001f9be"
    data["robots"][0]["joints"][0]["name"] = "\U0001f1e9\U0001f1ea\ufe0f"
    study = load_study(json.dumps(data))
    made = sheets(study, solve(study), ["rings", "robots"])
    files = {file.name.rsplit(".")[-1] for file in made.files}
    assert files == {"svg", "pdf"}
    assert made.reasons == []
