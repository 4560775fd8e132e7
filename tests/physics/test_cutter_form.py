"""What the form of a disc cutter leaves of a profile: against rolled racks, unwound strings and plain search.

No table of such errors is at hand. Every value is derived a second time without the formula of
`cutter_form`: from polygons that a rack leaves on two discs (shapely), and from involutes by their string.
"""

import functools
import math

import numpy as np
import pytest
import shapely
from scipy.optimize import brentq, minimize_scalar

from ringset.arrays import Floats
from ringset.physics.cutter_form import (
    FormDeviation,
    involute_form_deviation,
    largest_shift_of_form,
)
from ringset.standards.cutters import standard_disc_form_teeth
from ringset.standards.racks import RACKS
from tests.physics.rolled_rack import rolled_pitch

ALPHA = math.radians(20.0)


def deviation(
    teeth: int | Floats,
    form: float | Floats,
    module: float = 1.0,
    name: str = "full",
    **more: float,
) -> FormDeviation:
    rack = RACKS[name]
    return involute_form_deviation(
        module, teeth, form, addendum=rack.addendum, dedendum=rack.dedendum,
        fillet=rack.root_fillet, pressure_angle_deg=rack.pressure_angle_deg, **more,
    )  # fmt: skip


def wound(teeth: float, roll: float, shift: float = 0.0) -> Floats:
    """A point of the right flank of a space, module 1: a string held straight off the base circle.

    The string leaves the circle at an angle that is `roll` further on than where its end lay on the
    circle, and is as long as the arc between. That end is found from the space on the pitch circle, half
    as wide as pitch and shift say, by laying the string back onto the circle.
    """
    base = teeth / 2.0 * math.cos(ALPHA)
    on_pitch = (math.pi / 2.0 - 2.0 * shift * math.tan(ALPHA)) / teeth
    # the string through the pitch point touches the circle alpha further on, tan(alpha) from its end
    end = on_pitch + ALPHA - math.tan(ALPHA)
    leaves = end + roll
    touch = base * np.array([math.sin(leaves), math.cos(leaves)])
    back = np.array([-math.cos(leaves), math.sin(leaves)])
    return np.asarray(touch + base * roll * back)


def by_search(teeth: int, form: float, shift: float = 0.0) -> tuple[float, float, float]:
    """Least, largest and last deviation in um, module 1: nearest points found by search, not by formula."""
    pitch = wound(teeth, math.tan(ALPHA), shift)
    at = brentq(lambda roll: wound(form, roll)[0] - pitch[0], 0.0, 1.5, xtol=1e-15)
    up = np.array([0.0, pitch[1] - wound(form, at)[1]])
    rack = RACKS["full"]
    deep = rack.dedendum - rack.root_fillet * (1.0 - math.sin(ALPHA))

    def start(count: float, x: float) -> float:
        return max(math.tan(ALPHA) - 4.0 * (deep - x) / (count * math.sin(2.0 * ALPHA)), 0.0)

    def roll_at(radius: float) -> float:
        low = start(form, 0.0)
        if np.hypot(*(wound(form, low) + up)) >= radius:
            return low
        return float(
            brentq(lambda roll: np.hypot(*(wound(form, roll) + up)) - radius, low, 1.5, xtol=1e-15)
        )

    low = roll_at(float(np.hypot(*wound(teeth, start(teeth, shift), shift))))
    high = roll_at(teeth / 2.0 + rack.addendum + shift)

    def off(roll: float) -> float:
        point = wound(form, roll) + up

        def away(other: float) -> float:
            return float(np.sum((wound(teeth, other, shift) - point) ** 2))

        near = minimize_scalar(
            away, bounds=(0.0, 1.5), method="bounded", options={"xatol": 1e-12}
        ).x
        gap = point - wound(teeth, near, shift)
        return math.copysign(1e3 * float(np.hypot(*gap)), gap[0])

    rolls = np.linspace(low, high, 41)
    grid = [off(roll) for roll in rolls]
    ends = [0.0, *grid]
    for sign in (1.0, -1.0):  # the turning point, between two points of the grid
        k = int(np.argmin(sign * np.array(grid)))
        around = (rolls[max(k - 1, 0)], rolls[min(k + 1, 40)])
        turn = minimize_scalar(
            lambda roll, sign=sign: sign * off(roll), bounds=around, method="bounded",
            options={"xatol": 1e-7},
        )  # fmt: skip
        ends.append(sign * float(turn.fun))
    return min(ends), max(ends), grid[-1]


@functools.cache
def flank(teeth: int) -> Floats:
    """Right flank of the space on the y axis, root to tip, module 1, that a rolling rack leaves."""
    points = shapely.get_coordinates(rolled_pitch("full", teeth, 0.0))
    radius, turn = np.hypot(*points.T), np.arctan2(points[:, 0], points[:, 1])
    pitch = teeth / 2.0
    deep = RACKS["full"].dedendum - RACKS["full"].root_fillet * (1.0 - math.sin(ALPHA))
    keep = (turn > 1e-6) & (turn < math.pi / teeth) & (radius < pitch + 1.0 - 1e-9)
    # where the straight flank of the rack ends, the involute starts
    height = deep / math.tan(ALPHA)
    keep &= radius > math.hypot(pitch - deep, height)
    order = np.argsort(radius[keep])
    return np.asarray(points[keep][order])


#: Teeth, teeth of the form: starts of the ranges of both sets, middles and ends of them.
PAIRS = [
    (20, 18), (25, 21), (30, 26), (34, 26), (45, 35), (54, 35), (61, 55), (79, 55), (89, 55),
    (113, 55), (134, 55), (134, 80), (200, 135),
]  # fmt: skip


@pytest.mark.cases(fast=1, slow=4)
@pytest.mark.parametrize(("teeth", "form"), PAIRS)
def test_the_error_is_the_distance_of_two_rolled_profiles(teeth: int, form: int) -> None:
    """The cutter's polygon laid into the ring's, right on the pitch circle; shapely measures the way."""
    true, cut = flank(teeth), flank(form)
    half = teeth / 2.0 * math.sin(math.pi / (2.0 * teeth))
    height = teeth / 2.0 * math.cos(math.pi / (2.0 * teeth))
    laid = cut + np.array([0.0, height - np.interp(half, cut[:, 0], cut[:, 1])])
    radius = np.hypot(*laid.T)
    # a tenth of a module below the tip, so that the nearest point of the true flank is not its end
    inside = laid[(radius > np.hypot(*true[0])) & (radius < teeth / 2.0 + 0.9)]
    way = shapely.distance(shapely.LineString(true), shapely.points(inside))
    side = np.sign(inside[:, 0] - np.interp(inside[:, 1], true[:, 1], true[:, 0]))
    off = 1e3 * side * way
    rack = RACKS["full"]
    outermost = float(np.hypot(*inside.T).max()) - teeth / 2.0
    found = involute_form_deviation(
        1.0, teeth, form, addendum=outermost, dedendum=rack.dedendum, fillet=rack.root_fillet,
        pressure_angle_deg=rack.pressure_angle_deg,
    )  # fmt: skip
    # facets of the rolled rack are below 1e-5 modules, and alike on both
    assert off.max() == pytest.approx(float(found.most_um), abs=2e-3)
    assert off.min() == pytest.approx(float(found.least_um), abs=2e-3)


@pytest.mark.parametrize(
    ("teeth", "form"), [*PAIRS, (18, 17), (55, 78.0), (512, 135), (400, 270.0)]
)
def test_the_error_is_that_of_strings_and_nearest_points(teeth: int, form: float) -> None:
    least, most, _ = by_search(teeth, form)
    found = deviation(teeth, form)
    assert float(found.most_um) == pytest.approx(most, rel=1e-5, abs=1e-5)
    assert float(found.least_um) == pytest.approx(least, rel=1e-5, abs=1e-5)


@pytest.mark.parametrize(
    ("teeth", "form", "shift"), [(89, 55, 0.4), (113, 55, -0.3), (60, 55, 0.7)]
)
def test_a_ring_with_shift_is_cut_by_a_form_without(teeth: int, form: int, shift: float) -> None:
    least, most, _ = by_search(teeth, form, shift)
    found = deviation(teeth, form, shift=shift)
    assert float(found.most_um) == pytest.approx(most, rel=1e-5, abs=1e-5)
    assert float(found.least_um) == pytest.approx(least, rel=1e-5, abs=1e-5)


@pytest.mark.parametrize(("teeth", "known"), [(89, 33), (113, 44)])
def test_the_tips_of_the_seven_joint_arm_are_off_by_what_is_known_of_them(
    teeth: int, known: int
) -> None:
    """Module 1, a form of 55 teeth: 33 um at 89 teeth and 44 um at 113, found before and elsewhere."""
    _, _, tip = by_search(teeth, 55)
    assert round(tip) == known
    assert float(deviation(teeth, 55).most_um) == pytest.approx(tip, rel=1e-6)


def test_two_constructions_of_the_involute_agree() -> None:
    """The string, and x = r_b (cos u + u sin u), y = r_b (sin u - u cos u) of the textbooks."""
    for teeth in (17, 55, 300):
        base = teeth / 2.0 * math.cos(ALPHA)
        turn = math.pi / (2.0 * teeth) - math.tan(ALPHA) + ALPHA
        for u in (0.0, 0.2, 0.5):
            out, aside = (
                base * (math.cos(u) + u * math.sin(u)),
                base * (math.sin(u) - u * math.cos(u)),
            )
            told = [
                out * math.sin(turn) + aside * math.cos(turn),
                out * math.cos(turn) - aside * math.sin(turn),
            ]
            assert wound(teeth, u) == pytest.approx(told, abs=1e-12)


def test_a_form_of_the_rings_own_count_leaves_nothing() -> None:
    for teeth in (18, 55, 400):
        found = deviation(teeth, teeth)
        assert (float(found.least_um), float(found.most_um)) == (0.0, 0.0)
        alike = deviation(teeth, teeth, shift=0.3, form_shift=0.3)
        assert float(alike.total_um) == 0.0


def test_columns_and_modules() -> None:
    """A column gives what its rows give alone, and the error grows with the module."""
    teeth = np.array([55, 61, 89, 113, 134])
    column = deviation(teeth, 55.0).total_um
    assert column.shape == (5,)
    assert column.tolist() == [float(deviation(int(z), 55).total_um) for z in teeth]
    assert deviation(teeth, 55.0, module=2.5).total_um == pytest.approx(2.5 * column)
    assert np.all(np.diff(column) > 0.0)


def test_a_form_in_the_middle_of_a_range_halves_its_largest_error() -> None:
    """Willis: the error goes with the difference of 1/z, so the middle is that of the curvatures."""
    middle = standard_disc_form_teeth("disc_8", 60, "range_middle")
    assert middle == pytest.approx(2.0 / (1.0 / 55.0 + 1.0 / 134.0))
    ends = [float(deviation(z, middle).total_um) for z in (55, 134)]
    whole = float(deviation(134, 55).total_um)
    assert max(ends) / whole == pytest.approx(0.5, abs=0.02)
    assert min(ends) / whole == pytest.approx(0.5, abs=0.03)


RACK = {"dedendum": 1.25, "fillet": 0.38, "pressure_angle_deg": 20.0}


def test_the_largest_shift_is_that_at_which_the_form_ends_on_the_pitch_circle() -> None:
    most = float(largest_shift_of_form(18, 17, **RACK))
    assert np.isfinite(float(deviation(18, 17, shift=most - 1e-9).total_um))
    with pytest.raises(ValueError, match=r"shift: given 0.5, allowed 0.4576 at most for 18 teeth"):
        deviation(18, 17, shift=0.5)
    # there the narrowest of the form, its string not unwound at all, is as wide as the ring's space
    half = 9.0 * math.sin((math.pi / 2.0 - 2.0 * most * math.tan(ALPHA)) / 18.0)
    assert wound(17, 0.0)[0] == pytest.approx(half, abs=1e-12)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"module": 0.0}, "module_mm: given 0.0, allowed above 0"),
        ({"teeth": 4}, "teeth: given 4, allowed 5 or more"),
        ({"form": 4.5}, "form_teeth: given 4.5, allowed 5 or more"),
        ({"form": math.nan}, "form_teeth: given nan, allowed 5 or more"),
        ({"module": math.inf}, "module_mm: given inf, allowed a finite number"),
        ({"shift": math.nan}, "shift: given nan, allowed a finite number"),
    ],
)
def test_what_cannot_be_computed_is_named(given: dict[str, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        deviation(**{"teeth": 89, "form": 55, **given})  # type: ignore[arg-type]
