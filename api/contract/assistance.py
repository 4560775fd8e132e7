"""What helps to state a study and to understand a ring: fields, scenarios, advice, grounds; as data."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

from pydantic import Field

from ringset import ErrorChange, FieldFact, Ground, StandingRing, Study
from ringset.api.contract.base import RequestModel, ResponseModel, SecondTeeth

#: The scenarios of the checkout, which the package holds too.
FOLDER = Path(__file__).parents[1] / "scenarios"


class FieldList(ResponseModel):
    """Every field of a study."""

    fields: list[FieldFact]


class Scenario(ResponseModel):
    """A study of an invented robot to start from."""

    name: str
    title: str
    robots: int
    joints: int


class ScenarioList(ResponseModel):
    """Studies to start from."""

    scenarios: list[Scenario]


class AdviceRequest(RequestModel):
    """One ring on one joint of a study."""

    study: Study
    joint: str = Field(max_length=200, description="Name of the joint.")
    robot: str | None = Field(
        default=None, max_length=200, description="Robot, where joints of several share a name."
    )
    module_mm: float = Field(ge=0.05, le=50.0)
    teeth: int = Field(ge=1, le=10_000)
    bore_mm: float = Field(gt=0.0, le=5000.0)
    heads: int = Field(ge=1, le=8)
    second_teeth: SecondTeeth = None


class Advice(ResponseModel):
    """What would lower the error of a ring on its joint, the most helpful first."""

    error_arcsec: float = Field(description="Its error now, on the basis of the target.")
    changes: list[ErrorChange]


class GroundsRequest(RequestModel):
    """The rings that stand on all joints of a study, and the joint whose ring is asked about."""

    study: Study
    joint: str = Field(max_length=200, description="Name of the joint.")
    robot: str | None = Field(
        default=None, max_length=200, description="Robot, where joints of several share a name."
    )
    rings: list[StandingRing] = Field(
        min_length=1,
        max_length=10_000,
        description="One for every joint, as in an answer; together they must keep every limit of the "
        "study. Rings of the same size and face width are one ring part.",
    )
    material_unit_kg: float = Field(
        default=1e-6, ge=1e-6, le=1e6, description="As in the answer's proof: finer is equal."
    )
    cost_unit: float = Field(
        default=0.01, ge=0.01, le=1e9, description="As in the answer's proof; finer is equal."
    )


class Grounds(ResponseModel):
    """Why a ring is as it is: rings beside it, with what each would break, cost or save."""

    grounds: list[Ground]


@cache
def contract_example_scenarios() -> dict[str, tuple[Scenario, bytes]]:
    """Return every scenario by name, with its bytes."""
    found = {}
    for file in sorted(FOLDER.glob("*.json")):
        raw = file.read_bytes()
        study = json.loads(raw)
        joints = sum(len(robot["joints"]) for robot in study["robots"])
        about = Scenario(
            name=file.stem, title=study["title"], robots=len(study["robots"]), joints=joints
        )
        found[file.stem] = about, raw
    return found
