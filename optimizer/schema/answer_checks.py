"""What must be so of an answer before anything is computed from it: ranges, and names that fit its study.

An answer read from a file has been held to its ranges. One put together in Python may not have been, because
a copy of a model is not checked.
"""

from __future__ import annotations

from collections import Counter

from pydantic import ValidationError

from ringset.errors import Fault, StudyError
from ringset.schema.answer import Answer
from ringset.schema.loading import field_fault
from ringset.schema.study import Study


def answer_range_faults(answer: Answer) -> list[Fault]:
    """Return every field of an answer that has not its type or lies outside its range."""
    try:
        Answer.model_validate(answer.model_dump(warnings=False))
    except ValidationError as error:
        return [field_fault(detail) for detail in error.errors(include_url=False)]
    return []


def refuse_unknown_field_names(study: Study, answer: Answer) -> None:
    """Raise StudyError unless every joint has one ring, and every ring one listed part, and they agree."""
    joints = Counter((robot.name, joint.name) for robot in study.robots for joint in robot.joints)
    if answer.rings and Counter((ring.robot, ring.joint) for ring in answer.rings) != joints:
        raise StudyError(
            [Fault("rings", "rings of other joints", "one ring for each joint of the study")]
        )
    asks = {(r.name, joint.name) for r in study.robots for joint in r.joints if joint.second_ring}
    seconds = Counter((ring.robot, ring.joint) for ring in answer.second_rings)
    if answer.rings and seconds != Counter(asks):
        raise StudyError(
            [Fault("second_rings", "those of other joints", "one for each joint that asks one")]
        )
    used = Counter({ring.ring_part for ring in answer.every_ring})
    if Counter(part.id for part in answer.ring_parts) != used:
        raise StudyError(
            [Fault("ring_parts", "other parts than the rings name", "each part of the rings once")]
        )
