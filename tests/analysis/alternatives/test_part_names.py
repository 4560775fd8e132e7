"""Grounds call a ring part by the name that it has, and by its size only where none is told."""

from __future__ import annotations

from collections.abc import Iterable

from ringset.analysis.alternatives.alternatives import (
    alternatives_among,
    alternatives_of,
    standing_ring_of_alternatives,
)
from ringset.analysis.alternatives.models import Ground
from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.solving.pipeline import solve
from tests.support.revisions import renamed
from tests.support.studies import Json, load, small


def named(study: Study, answer: Answer, told: bool) -> set[tuple[str | None, str]]:
    """Return the other parts that the grounds of all joints name, each with the beginning of its sentence."""
    standing = [standing_ring_of_alternatives(ring) for ring in answer.rings]
    if not told:
        standing = [ring.model_copy(update={"ring_part": None}) for ring in standing]

    def grounds() -> Iterable[Ground]:
        for robot in study.robots:
            for joint in robot.joints:
                yield from alternatives_among(study, standing, robot, joint)

    return {
        (one.ring_part, one.text.partition(" (")[0])
        for one in grounds()
        if one.kind == "other_part"
    }


def apart() -> Json:
    """Return two joints alike but for their widths' reach, so that each could take the other's ring."""
    data = small()
    rows = data["robots"][0]["joints"]
    data["robots"][0]["joints"] = [rows[1], rows[2]]
    rows[1]["bore_max_mm"], rows[2]["bore_min_mm"] = 44.0, 41.0
    data["wishes"] = {"order": ["material"]}
    return data


def test_the_name_that_is_told_is_told_again() -> None:
    data = apart()
    answer = solve(load(data))
    called = dict(zip([p.id for p in answer.ring_parts], ["OLD-9", "OLD-4"], strict=False))
    data["shop"]["part_prefix"] = "RX-"
    study = load(data)
    assert len(called) == 2, answer.ring_parts
    kept = solve(study, previous=renamed(answer, called))
    assert {part.id for part in kept.ring_parts} == {"OLD-9", "OLD-4"}
    told = named(study, kept, told=True)
    assert told
    assert {name for name, _ in told} <= {"OLD-9", "OLD-4"}
    assert all(text.startswith(str(name)) for name, text in told)
    by_size = named(study, kept, told=False)
    assert {name for name, _ in by_size} <= {"RX-1", "RX-2"}
    assert len(by_size) == len(told)
    robot, joint = study.robots[0], study.robots[0].joints[0]
    of_answer = [one.ring_part for one in alternatives_of(study, kept, robot, joint)]
    assert set(of_answer) <= {None, "OLD-9", "OLD-4"}
