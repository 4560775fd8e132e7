"""Answers to draw: solved scenarios, and rings of any size put in their place."""

from functools import cache

from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.support.places import SCENARIOS

#: Module, teeth, bore and width of a ring, in mm.
Size = tuple[float, int, float, float]


@cache
def answered(name: str) -> tuple[Study, Answer]:
    """Return a scenario and its answer."""
    study = load_study((SCENARIOS / f"{name}.json").read_bytes())
    return study, solve(study)


def resized(answer: Answer, module: float, teeth: int, bore: float, width: float) -> Answer:
    """Return the answer with one ring of these sizes on every joint, standard depth; not judged."""
    sizes = {
        "module_mm": module,
        "teeth": teeth,
        "bore_mm": bore,
        "face_width_mm": width,
        "rim_mm": (module * (teeth - 2.5) - bore) / 2.0,
        "tip_diameter_mm": module * (teeth + 2.0),
    }
    more = {
        "pitch_diameter_mm": module * teeth,
        "root_diameter_mm": module * (teeth - 2.5),
        "tooth_depth_mm": 2.25 * module,
        "ring_part": "R1",
    }
    part = answer.ring_parts[0].model_copy(update=sizes | {"id": "R1"})
    rings = [ring.model_copy(update=sizes | more) for ring in answer.rings]
    return answer.model_copy(update={"rings": rings, "ring_parts": [part]})
