"""What reports say of cutters and ring parts that are there already."""

from __future__ import annotations

import json

import pytest

from ringset.analysis.front.front import find_front
from ringset.cli.main import main
from ringset.reporting.front_text import front_text
from ringset.reporting.pieces_text import counted_note, pieces_text
from ringset.schema.totals import Totals
from tests.solving.test_standing import ELBOW, arm
from tests.support.studies import load


def totals(**more: object) -> Totals:
    given = {
        "cutters": 1,
        "ring_parts": 3,
        "heads": 12,
        "material_kg": 1.0,
        "finished_kg": 0.9,
        "cost": None,
    }
    return Totals.model_validate(given | more)


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({}, "1 cutter, 3 ring parts"),
        ({"counted": "new"}, "1 new cutter, 3 new ring parts"),
        ({"counted": "new", "cutters": 0, "cutters_owned": 2, "parts_in_production": 1},
         "0 new cutters (2 owned), 3 new ring parts (1 in production)"),
        ({"counted": "all", "cutters_owned": 1, "parts_in_production": 2},
         "1 cutter (1 of them owned), 3 ring parts (2 of them in production)"),
    ],
)  # fmt: skip
def test_it_is_said_beside_every_count_what_is_new(more: dict[str, object], said: str) -> None:
    assert pieces_text(totals(**more)) == said
    note = counted_note(totals(**more).counted)
    assert (note is None) == (not more)


def test_reports_and_fronts_say_which_count(
    tmp_path: object, capsys: pytest.CaptureFixture[str]
) -> None:
    data = arm(parts_in_production=[ELBOW], owned_cutters=[{"module": 1.0}])
    front = find_front(load(data), over=["ring_parts", "material"])
    assert "do not count (wishes.count new)" in " ".join(front_text(front).split())
    file = f"{tmp_path}/study.json"
    with open(file, "w") as out:
        json.dump(data, out)
    assert main(["solve", file, "--bare"]) == 0
    told = capsys.readouterr().out
    assert "0 new cutters (1 owned), 3 new ring parts (1 in production)" in told
    assert "RX-17: module 1, 120 teeth" in told
    assert "; in production" in told
    assert "; owned" in told
