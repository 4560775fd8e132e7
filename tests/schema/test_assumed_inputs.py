"""Assumed inputs: which a study leaves, how its own ranges enter, how wrong ranges are refused by name."""

from __future__ import annotations

from typing import Any

import pytest

from ringset.errors import StudyError
from ringset.schema.assumed_inputs import STATED, assumed_inputs, study_field_at, study_with_inputs
from ringset.schema.study import Study
from tests.support.studies import load, small


def study(ranges: dict[str, Any] | None = None, **parts: Any) -> Study:
    data = small()
    data["robots"][0]["joints"][0]["wobble_mrad"] = 0.4
    return load({**data, **parts, **({} if ranges is None else {"ranges": ranges})})


def paths(given: Study) -> list[str]:
    return [one.path for one in assumed_inputs(given)]


def test_a_default_is_one_input_of_all_joints_that_leave_it() -> None:
    given = study()
    (wobble,) = [one for one in assumed_inputs(given) if one.path == "joints[].wobble_mrad"]
    assert wobble.places == tuple(("robots", 0, "joints", j, "wobble_mrad") for j in (1, 2))
    assert (wobble.given, wobble.stated) == (0.5, False)
    changed = study_with_inputs(given, [(wobble, 0.9)])
    assert [joint.wobble_mrad for joint in changed.robots[0].joints] == [0.4, 0.9, 0.9]
    assert given.robots[0].joints[1].wobble_mrad == 0.5


def test_what_is_stated_is_no_assumption() -> None:
    left = set(paths(study()))
    assert {"head.noise_ratio", "shop.clamp_force_n", "joints[].seat_offset_um"} <= left
    assert "shop.bore_step_mm" not in left  # the study states it
    stated = study(head={"noise_ratio": 0.001})
    assert left - set(paths(stated)) == {"head.noise_ratio"}


def test_the_canonical_study_leaves_the_same() -> None:
    given = study()
    assert paths(given.canonical()) == paths(given)


def test_a_fit_gives_the_offset_and_heads_that_read_nothing_are_left_out() -> None:
    data = small()
    for joint in data["robots"][0]["joints"]:
        joint.update(seat_fit="H7/h6", head="own")
    given = load({**data, "heads": {"own": {}, "spare": {}}})
    assert "joints[].seat_offset_um" not in paths(given)
    assert "heads.own.noise_ratio" in paths(given)
    assert not [path for path in paths(given) if path.startswith(("head.", "heads.spare."))]


def test_a_range_of_the_study_takes_the_place_of_the_default() -> None:
    given = study({"head.noise_ratio": [0.0005, 0.002], "joints[].wobble_mrad": [0, 2]})
    found = {one.path: one for one in assumed_inputs(given)}
    assert found["head.noise_ratio"].ends == (0.0005, 0.002)
    assert found["head.noise_ratio"].because == STATED
    assert found["joints[].wobble_mrad"].ends == (0.0, 2.0)
    assert paths(given) == paths(study())


def test_a_stated_input_with_a_range_takes_part() -> None:
    given = study(
        {"target.angle_target_arcsec": [150, 250], 'joints."joint 2".wobble_mrad': [0.1, 0.7]}
    )
    found = {one.path: one for one in assumed_inputs(given)}
    assert found["target.angle_target_arcsec"].given == 200.0
    own = found['joints."joint 2".wobble_mrad']
    assert own.places == (("robots", 0, "joints", 1, "wobble_mrad"),)
    assert found["joints[].wobble_mrad"].places == (("robots", 0, "joints", 2, "wobble_mrad"),)
    assert study_field_at(study_with_inputs(given, [(own, 0.2)]), own.places[0]) == 0.2


@pytest.mark.parametrize(
    ("ranges", "path", "given", "allowed"),
    [
        ({"head.noize": [1, 2]}, "ranges.head.noize", "path that this study does not have", "noise_ratio"),
        ({"head.noise_ratio": [0.002, 0.001]}, "ranges.head.noise_ratio", "0.002 to", "lower end first"),
        ({"head.noise_ratio": [0.001, 2]}, "ranges.head.noise_ratio[1]", "2", "less than 1"),
        ({"shop.cutting": ["hob", "laser"]}, "ranges.shop.cutting[1]", '"laser"', "'wire'"),
        ({"head.noise_ratio": [0.001]}, "ranges.head.noise_ratio", "[0.001]", "at least 2 items"),
        ({"search.seed": [1, 2]}, "ranges.search.seed", "a path of wishes or search", "head, heads, shop"),
        ({"joints[].wobbel": [1, 2]}, "ranges.joints[].wobbel", "does not have", "a field of joints"),
        ({"joints[].tip_max_mm": [60, 70]}, "ranges.joints[].tip_max_mm", "all joints state", "path of one"),
        ({"head.noise_ratio": [0.002, 0.003]}, "ranges.head.noise_ratio", "0.002 to 0.003", "holds 0.001"),
        ({"shop.prices.head": [1, 2]}, "ranges.shop.prices.head", "does not state", "that part stated"),
        (
            {'joints."joint 2".reach_mm': [0, 900], 'robots.arm.joints."joint 2".reach_mm': [0, 900]},
            'ranges.robots.arm.joints."joint 2".reach_mm', "a second range of", "one range of each field",
        ),
    ],
)  # fmt: skip
def test_a_wrong_range_is_refused_by_name(
    ranges: dict[str, Any], path: str, given: str, allowed: str
) -> None:
    with pytest.raises(StudyError) as caught:
        study(ranges)
    (fault,) = caught.value.faults
    assert fault.path == path
    assert given in fault.given
    assert allowed in fault.allowed
