"""What helps to state a study and to understand a ring; drawings and tables over the API."""

from __future__ import annotations

import base64
import io
import json
import subprocess
import sys
import zipfile
from typing import Any

import numpy as np
import pytest

from ringset import alternatives_of, load_answer, load_study, rate_one, study_fields
from ringset.physics.tooth_profile import rack_tooth_profile
from ringset.standards.racks import RACKS
from tests.api.running import Running, study
from tests.support.places import ROOT

SCENARIOS = sorted((ROOT / "scenarios").glob("*.json"))


def test_every_field_is_listed_with_what_a_form_needs(shared: Running) -> None:
    fields = shared.http.get("/v1/fields").json()["fields"]
    assert len(fields) == len(study_fields())
    by_name = {field["place"] + field["name"]: field for field in fields}
    bore = by_name["robots[].joints[].bore_min_mm"]
    assert (bore["unit"], bore["required"], bore["kind"], bore["maximum"]) == (
        "mm", True, "number", 5000.0,
    )  # fmt: skip
    gap = by_name["head. or heads.NAME.gap_mm"]
    assert (gap["default"], gap["assumed"]) == (0.4, True)
    cuttings = ["hob", "disc_8", "disc_15", "disc_special", "wire"]
    assert by_name["shop.cutting"]["choices"] == cuttings
    assert by_name["shop.modules"]["kind"] == "list"
    assert by_name["shop.prices.material_per_kg"]["unit"] == "1/kg"
    assert by_name["robots[].joints[].second_ring"]["kind"] == "yes_no"
    units = {field["name"].rsplit("_", 1)[-1] for field in fields if not field["unit"]}
    assert not units & {"mm", "um", "arcsec", "hz", "rpm", "deg", "us", "ua"}


@pytest.mark.parametrize("file", SCENARIOS, ids=lambda file: file.stem)
def test_every_scenario_can_be_started_from(shared: Running, file: Any) -> None:
    listed = {row["name"]: row for row in shared.http.get("/v1/scenarios").json()["scenarios"]}
    given = shared.http.get(f"/v1/scenarios/{file.stem}").json()
    assert given == json.loads(file.read_text())
    robots = load_study(json.dumps(given)).robots
    assert listed[file.stem]["joints"] == sum(len(robot.joints) for robot in robots)
    assert listed[file.stem]["title"] == given["title"]


def test_there_is_no_other_scenario(shared: Running) -> None:
    for name in ("none", "..%2F..%2Fpyproject", "README"):
        assert shared.http.get(f"/v1/scenarios/{name}").status_code == 404


def turned(outline: dict[str, Any]) -> np.ndarray:
    """Return the whole outline as complex numbers."""
    one = np.array(outline["x_mm"]) + 1j * np.array(outline["y_mm"])
    turns = np.exp(2j * np.pi * np.arange(outline["teeth"]) / outline["teeth"])
    return np.ravel(turns[:, np.newaxis] * one)


@pytest.mark.parametrize(
    ("module_mm", "teeth", "rack", "shift"),
    [(1.0, 101, "full", 0.0), (0.8, 20, "stub", 0.3), (2.0, 12, "full", 0.0)],
)
def test_the_outline_holds_the_area_of_the_ring(
    shared: Running, module_mm: float, teeth: int, rack: str, shift: float
) -> None:
    """Turned by the pitch it closes, and holds the area that the profile's own quadrature finds."""
    query: dict[str, float | str]
    query = {"module_mm": module_mm, "teeth": teeth, "rack": rack, "profile_shift": shift}
    outline = shared.http.get("/v1/outlines", params=query).json()
    points = turned(outline)
    area = 0.5 * abs(np.sum((points.conj() * np.roll(points, -1)).imag))
    form = RACKS[rack]
    exact = rack_tooth_profile(
        module_mm, teeth, addendum=form.addendum, dedendum=form.dedendum, shift=shift,
        fillet=form.root_fillet, pressure_angle_deg=form.pressure_angle_deg,
    )  # fmt: skip
    # chords of at most 2 um off the curve over twice the circumference of the teeth
    slack = 0.002 * (2.0 * np.pi * exact.tip_mm + 6.0 * teeth * module_mm)
    assert abs(area - exact.area_mm2()) < slack
    assert np.abs(points).max() == pytest.approx(outline["tip_radius_mm"], abs=1e-9)
    assert np.abs(points).min() == pytest.approx(outline["root_radius_mm"], abs=0.002)
    assert outline["undercut"] == (teeth == 12)


def test_an_outline_that_cannot_be_is_refused(shared: Running) -> None:
    query = {"module_mm": 1, "teeth": 5, "profile_shift": 0.8}
    given = shared.http.get("/v1/outlines", params=query)
    assert given.status_code == 422
    assert "profile_shift" in given.json()["errors"][0]["detail"]


def test_advice_is_what_rating_the_changed_ring_gives(shared: Running) -> None:
    document = study("advice", joints=2)
    body = {
        "study": document, "joint": "j0", "module_mm": 1, "teeth": 90, "bore_mm": 66, "heads": 1,
    }  # fmt: skip
    given = shared.http.post("/v1/advice", json=body).json()
    loaded = load_study(json.dumps(document))
    robot, joint = loaded.robots[0], loaded.robots[0].joints[0]
    ring, _ = rate_one(loaded, robot, joint, 1.0, 90, 66.0, 1)
    assert given["error_arcsec"] == ring.error_arcsec
    changes = {change["kind"]: change for change in given["changes"]}
    two, _ = rate_one(loaded, robot, joint, 1.0, 90, 66.0, 2)
    assert changes["heads"]["value"] == 2
    assert changes["heads"]["error_arcsec"] == two.error_arcsec
    errors = [change["error_arcsec"] for change in given["changes"]]
    assert errors == sorted(errors)
    assert max(errors) < given["error_arcsec"]
    unknown = shared.http.post("/v1/advice", json=body | {"joint": "none"})
    assert unknown.status_code == 422


def asked_of(document: dict[str, Any], answer: dict[str, Any], joint: str) -> dict[str, Any]:
    """Return the body that asks for the grounds of a joint's ring in an answer."""
    names = ("robot", "joint", "module_mm", "teeth", "bore_mm", "heads")
    rings = [{name: ring[name] for name in names} for ring in answer["rings"]]
    return {"study": document, "joint": joint, "rings": rings}


def test_grounds_are_those_of_the_answer(shared: Running) -> None:
    document = study("grounds", joints=2)
    made = shared.submit(document, wait=20).json()["answer"]
    body = asked_of(document, made, "j0")
    given = shared.http.post("/v1/grounds", json=body)
    assert given.status_code == 200
    loaded, answer = load_study(json.dumps(document)), load_answer(json.dumps(made))
    wanted = alternatives_of(loaded, answer, loaded.robots[0], loaded.robots[0].joints[0])
    assert given.json()["grounds"] == [ground.model_dump(mode="json") for ground in wanted]
    assert {ground.outcome for ground in wanted} <= {"breaks", "costs", "as good"}
    named = shared.http.post("/v1/grounds", json=body | {"robot": "arm"}).json()
    assert named == given.json()


def test_grounds_of_rings_that_do_not_stand_are_refused_at_their_field(shared: Running) -> None:
    document = study("no grounds", joints=2)
    body = asked_of(document, shared.submit(document, wait=20).json()["answer"], "j0")

    def refused(**changes: Any) -> list[str]:
        rings = [body["rings"][0] | changes, *body["rings"][1:]]
        problem = shared.http.post("/v1/grounds", json=body | {"rings": rings})
        assert problem.status_code == 422
        return [error["pointer"] for error in problem.json()["errors"]]

    assert refused(teeth=7) == ["/rings/0"]
    assert refused(module_mm=0.93) == ["/rings/0/module_mm"]
    assert refused(bore_mm=66.0123) == ["/rings/0/bore_mm"]
    assert refused(joint="none") == ["/rings/0/joint"]
    assert refused(teeth=0) == ["/rings/0/teeth"]
    assert refused(colour="red") == ["/rings/0/colour"]
    wrongs: tuple[dict[str, Any], ...] = (
        {"joint": "none"},
        {"rings": body["rings"][:1]},
        {"rings": []},
    )
    for wrong in wrongs:
        given = shared.http.post("/v1/grounds", json=body | wrong)
        assert given.status_code == 422
        assert given.json()["errors"][0]["pointer"] == f"/{next(iter(wrong))}"
    loose = shared.http.post("/v1/grounds", json=body | {"study": document | {"odd": 1}})
    assert loose.json()["errors"][0]["pointer"] == "/study/odd"


def test_drawings_and_tables_come_as_files(shared: Running) -> None:
    made = shared.http.post(
        "/v1/studies", params={"find": "sheets"}, json=study("files", joints=2),
        headers={"Prefer": "wait=40"},
    ).json()  # fmt: skip
    assert (made["state"], made["status"]) == ("done", "proven")
    files = {file["name"]: file for file in made["sheets"]["files"]}
    assert {"report.txt", "R1.svg", "R1.pdf", "R1.dxf", "robot-arm.svg", "order.csv"} <= set(files)
    one = shared.http.get(f"/v1/studies/{made['id']}/sheets/R1.svg")
    assert one.content == base64.b64decode(files["R1.svg"]["content_base64"])
    assert one.headers["Content-Disposition"] == 'attachment; filename="R1.svg"'
    assert "sandbox" in one.headers["Content-Security-Policy"]
    assert len(one.content) == files["R1.svg"]["bytes"]
    whole = shared.http.get(f"/v1/studies/{made['id']}/sheets/all.zip").content
    with zipfile.ZipFile(io.BytesIO(whole)) as archive:
        assert set(archive.namelist()) == set(files)
        assert archive.read("R1.svg") == one.content
    assert shared.http.get(f"/v1/studies/{made['id']}/sheets/R9.svg").status_code == 404
    assert shared.http.get(f"/v1/studies/{made['id']}/sheets").json() == made["sheets"]


def test_only_some_files_are_made_where_only_some_are_asked(shared: Running) -> None:
    ask: dict[str, Any] = {"find": "sheets", "only": ["tables", "report"]}
    made = shared.http.post(
        "/v1/studies", json=study("some"), headers={"Prefer": "wait=40"}, params=ask
    ).json()
    assert {file["kind"] for file in made["sheets"]["files"]} == {"tables", "report"}
    wrong = {"find": "answer", "only": "tables"}
    assert shared.http.post("/v1/studies", params=wrong, json=study("x")).status_code == 422


def test_names_that_the_sheets_have_no_letters_for_are_refused_at_once(shared: Running) -> None:
    asked = study("letters", joints=2)
    asked["robots"][0]["joints"][1]["name"] = "关节"
    ask: dict[str, Any] = {"find": "sheets"}
    refused = shared.http.post("/v1/studies", params=ask, json=asked)
    assert refused.status_code == 422
    (fault,) = refused.json()["errors"]
    assert fault["pointer"] == "/robots/0/joints/1/name"
    assert "Latin, Greek, Cyrillic" in fault["detail"]
    made = shared.http.post(
        "/v1/studies", params=ask | {"only": ["tables", "dxf"]}, json=asked,
        headers={"Prefer": "wait=40"},
    ).json()  # fmt: skip
    assert {file["kind"] for file in made["sheets"]["files"]} == {"tables", "dxf"}


def test_an_impossible_study_has_no_files_but_reasons(shared: Running) -> None:
    asked = study("no files", target={"angle_target_arcsec": 0.01})
    made = shared.http.post(
        "/v1/studies", params={"find": "sheets"}, json=asked, headers={"Prefer": "wait=40"}
    ).json()
    assert (made["status"], made["sheets"]["files"]) == ("impossible", [])
    assert made["sheets"]["reasons"]
    assert shared.http.get(f"/v1/studies/{made['id']}/sheets/all.zip").status_code == 404
    other = shared.submit(study("no files"), wait=20).json()["id"]
    assert shared.http.get(f"/v1/studies/{other}/sheets/R1.svg").status_code == 404


def test_points_of_a_front_are_told_with_what_they_are_plotted_by(shared: Running) -> None:
    asked = study("plotted", joints=2)
    made = shared.http.post("/v1/studies", params={"find": "front"}, json=asked).json()
    shared.wait(made["id"])
    points = []
    with shared.http.stream("GET", f"/v1/studies/{made['id']}/events") as stream:
        name = ""
        for line in stream.iter_lines():
            name = line[7:] if line.startswith("event: ") else name
            if line.startswith("data: ") and name == "point":
                points.append(json.loads(line[6:]))
    front = shared.http.get(f"/v1/studies/{made['id']}/front").json()
    told = {(p["totals"]["material_kg"], p["largest_error_arcsec"]) for p in points}
    found = {
        (p["answer"]["totals"]["material_kg"], max(r["error_arcsec"] for r in p["answer"]["rings"]))
        for p in front["points"]
    }
    assert found <= told
    assert all(set(point["tool_points"]) == {"arm"} for point in points)


def test_inputs_beyond_all_measure_are_refused(shared: Running) -> None:
    """A signal that no number tells is no fault of the service."""
    body = {
        "study": study("dead", head={"bandwidth_hz": 5e-324}), "joint": "j0", "module_mm": 1,
        "teeth": 90, "bore_mm": 66, "heads": 1,
    }  # fmt: skip
    size = {name: body[name] for name in ("joint", "module_mm", "teeth", "bore_mm", "heads")}
    stand = {"study": body["study"], "joint": "j0", "rings": [size | {"robot": "arm"}]}
    for path, asked in (("/v1/advice", body), ("/v1/ratings", body), ("/v1/grounds", stand)):
        given = shared.http.post(path, json=asked)
        assert (given.status_code, given.json()["code"]) == (422, "invalid")


def test_no_call_of_the_page_brings_a_solver_into_the_server() -> None:
    """Nor a drawing library: what needs them runs in the worker processes."""
    program = """
import json, sys
import ringset.api.app
from ringset.api.contract.assistance import contract_example_scenarios
from ringset.api.routes.assistance import _advise, _grounds
from ringset.api.routes.page import page_languages_json, page_files
from ringset import outline_of_tooth, study_fields
study = json.loads(contract_example_scenarios()["two_joint_table"][1])
ring = {"joint": "turn", "module_mm": 1, "teeth": 101, "bore_mm": 90.5, "heads": 1}
assert _advise(json.dumps({"study": study, **ring}).encode())["changes"]
alone = {"robot": "table", "module_mm": 1, "teeth": 101, "bore_mm": 90.5, "heads": 2}
rings = [{"joint": joint, **alone} for joint in ("turn", "tilt")]
asked = {"study": study, "joint": "turn", "rings": rings}
assert _grounds(json.dumps(asked).encode())["grounds"]
assert page_files() and page_languages_json() and study_fields() and outline_of_tooth(1.0, 50)
heavy = {"ortools", "scipy", "reportlab", "ezdxf", "openpyxl", "OCP", "matplotlib"}
print(sorted({name.split(".")[0] for name in sys.modules} & heavy))
"""
    run = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert (run.returncode, run.stdout) == (0, "[]\n"), run.stderr
