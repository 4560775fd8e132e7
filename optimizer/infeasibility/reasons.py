"""Why a study is impossible: which joint by which limit, or which shared limits.

First by arithmetic, joint by joint; then, for limits that joints share, by solving for the best value
of each shared limit alone and, if each alone could hold, by dropping them one at a time.
"""

from __future__ import annotations

import itertools

import numpy as np

from ringset.arrays import Mask
from ringset.catalogue.bore_zones import catalogue_hole_zone
from ringset.catalogue.joints import JointRef, catalogue_joints, catalogue_modules
from ringset.catalogue.limits import catalogue_size_interval, catalogue_size_limits
from ringset.catalogue.ring_sizes import RingSizes
from ringset.catalogue.rows import Catalogue
from ringset.catalogue.windows import (
    catalogue_bore_limits,
    catalogue_teeth_range,
    catalogue_tip_limits,
    catalogue_tooth_window,
    catalogue_usable_modules,
)
from ringset.infeasibility.conflicts import infeasible_colliding_limits, infeasible_least_alone
from ringset.infeasibility.kept_part import infeasible_kept_part
from ringset.infeasibility.unmade import (
    NO_PAIR,
    NoFit,
    infeasible_fits_alone,
    infeasible_no_toothing_made,
)
from ringset.physics.limit_rule import number_at_most
from ringset.rating.limits import ACCURACY_TARGETS, RATED_LIMITS
from ringset.rating.rated import Rated, Weighed
from ringset.rating.ring_sums import (
    RING_SUM_UNITS,
    RING_SUMS,
    rated_ring_sum_limit,
    rated_ring_sums,
)
from ringset.rating.robot_sums import (
    rated_battery_limit_ua,
    rated_battery_shares_ua,
    rated_best_ring_words,
    rated_polling_cycle_us,
    rated_tool_point_limit,
    rated_tool_point_shares,
    rated_tool_point_um,
)
from ringset.rating.stated_limits import Limit
from ringset.reduction.table import table_least_per_joint
from ringset.schema.study import TOOL_POINT_TARGETS, Robot, Study

MM_PER_INCH, MM_PER_METRE = 25.4, 1000.0


def infeasible_joint_reasons(study: Study, rated: Rated, joints: range | None = None) -> list[str]:
    """Return why joints, all by default, have no ring inside all their own limits; empty if each has one."""
    rows = rated.catalogue
    fitting = np.bincount(rows.joint, minlength=len(rows.joints))
    inside = np.bincount(rows.joint[rated.inside], minlength=len(rows.joints))
    reasons = []
    for index in range(len(rows.joints)) if joints is None else joints:
        ref = rows.joints[index]
        if fitting[index] == 0:
            reasons.append(f"{ref.label}: {infeasible_no_fit(study, ref).text}")
        elif inside[index] == 0:
            mine = rated.take(rows.joint == index)
            reasons += [f"{ref.label}: {text}" for text in _limits_that_empty(study, mine)]
    return reasons


def infeasible_no_fit(study: Study, ref: JointRef) -> NoFit:
    """Return by which limit no ring fits a joint at all, with the best that can be reached."""
    shop, head, joint = study.shop, ref.head, ref.joint
    modules = catalogue_modules(shop)
    usable = modules[catalogue_usable_modules(study, ref, modules)]
    if len(usable) == 0:
        window = f"{head.module_min_mm:g} to {head.module_max_mm:g} mm"
        return NoFit("shop.modules", "", f"none lies in the head's module window of {window}")
    if infeasible_fits_alone(study, ref, modules):
        return NoFit("second_ring", "", NO_PAIR)
    module, teeth = catalogue_tooth_window(study, ref, modules)
    unmade = infeasible_no_toothing_made(study, ref, modules)
    if unmade is not None:
        return unmade
    if len(module) > 0:
        return _no_bore(study, ref, RingSizes(shop, modules[module], teeth))
    ends = RingSizes(shop, usable[[0, -1]], np.array(catalogue_teeth_range(study, ref)))
    smallest, largest = ends.tip.tolist()
    least, most = catalogue_tip_limits(study, ref)
    if smallest > most:
        return _no_room(ref, smallest, float(usable[0]))
    if joint.tip_min_mm is not None and largest < least:
        return NoFit(
            "tip_min_mm",
            f"{joint.tip_min_mm:g}",
            f"the largest tip diameter is {largest:g} mm "
            f"(module {usable[-1]:g}, head.teeth_max {head.teeth_max})",
        )
    return NoFit(
        "tip_min_mm",
        f"{joint.tip_min_mm} with {_outer_limit(ref)}",
        "no whole tooth count has its tips between them; they come in steps of a module, "
        f"{usable[0]:g} mm at least",
    )


def _housing_binds(ref: JointRef) -> bool:
    """Say whether the housing leaves the tips less room than their own limit does."""
    tips, housing = ref.joint.tip_max_mm, ref.joint.housing_max_mm
    return tips is None or (housing is not None and housing - ref.least_around_mm < tips)


def _outer_limit(ref: JointRef) -> str:
    """Return the limit that says where the tips end, with its value."""
    name = "housing_max_mm" if _housing_binds(ref) else "tip_max_mm"
    return f"{name} {getattr(ref.joint, name):g}"


def _no_room(ref: JointRef, smallest_mm: float, module_mm: float) -> NoFit:
    """Return that the smallest tips of a joint's head, in mm, are too large for the joint."""
    head, field, needed = ref.head, "tip_max_mm", smallest_mm
    reached = f"the smallest tip diameter is {smallest_mm:g} mm"
    if _housing_binds(ref):
        field, needed = "housing_max_mm", smallest_mm + ref.least_around_mm
        reached = (
            f"the smallest ring needs {needed:g} mm with its head (tips {smallest_mm:g}, gap "
            f"{head.narrowest_gap_mm:g} and head.height_above_tips_mm {head.height_above_tips_mm:g})"
        )
    stated = float(getattr(ref.joint, field))
    reached += f" (module {module_mm:g}, head.teeth_min {head.teeth_min})"
    return NoFit(field, f"{stated:g}", f"{reached}{_suspicion(stated, needed)}")


def _suspicion(stated_mm: float, least_mm: float) -> str:
    """Return words for a size that only metres explain: in inches it would be too small as well."""
    if stated_mm * MM_PER_INCH < least_mm <= stated_mm * MM_PER_METRE:
        return "; sizes are stated in mm: was this one meant in metres?"
    return ""


def _no_bore(study: Study, ref: JointRef, rings: RingSizes) -> NoFit:
    """Return by which limit no bore is left on any toothing that fits."""
    shop, joint, module, teeth = study.shop, ref.joint, rings.module, rings.teeth
    smallest_bore, largest_bore = catalogue_size_interval(study, ref, "bore", rings)
    _, largest_tip = catalogue_tip_limits(study, ref)
    least, thickest = catalogue_size_interval(study, ref, "rim", rings)
    rim = (rings.root - smallest_bore) / 2.0
    spare = rim - least
    best, coarsest = int(np.argmax(spare)), float(np.max(module))
    widest = float(np.max(rings.root))
    if np.max(rim) <= 0.0 and largest_tip - widest > 8.0 * coarsest:
        return NoFit(
            "bore_min_mm",
            f"{joint.bore_min_mm:g}",
            f"the largest root circle is {widest:g} mm "
            f"(head.teeth_max {ref.head.teeth_max}, module {coarsest:g})",
        )
    if spare[best] < 0.0:
        return NoFit(
            "bore_min_mm",
            f"{joint.bore_min_mm:g} with {_outer_limit(ref)}",
            f"at most {rim[best] + 0.0:.3g} mm of rim is left (module {module[best]:g}, "
            f"{teeth[best]} teeth), shop.rim_min_mm or rim_min_depths asks {least[best]:.3g} mm",
        )
    smallest = float(np.min(rings.root)) - 2.0 * float(thickest)
    if smallest > largest_bore:
        return NoFit(
            "bore_max_mm",
            f"{joint.bore_max_mm:g}",
            f"shop.rim_max_mm {shop.rim_max_mm:g} asks a bore of at least {smallest:g} mm",
        )
    smallest_mm, largest_mm = catalogue_bore_limits(study, ref, rings)
    room = int(np.argmax(largest_mm - smallest_mm))
    left = (
        f"between the {smallest_mm[room]:.6g} and {largest_mm[room]:.6g} mm that bore window and rim leave "
        f"(module {module[room]:g}, {teeth[room]} teeth)"
    )
    listed = study.bores_of(joint)
    if listed is not None:
        field = "shop.bores_mm" if joint.bores_mm is None else "bores_mm"
        return NoFit(field, ", ".join(f"{bore:g}" for bore in listed), f"none of them lies {left}")
    return NoFit("shop.bore_step_mm", f"{shop.bore_step_mm:g}", f"no multiple of it lies {left}")


def _limits_that_empty(study: Study, mine: Rated) -> list[str]:
    """Return the smallest found set of limits that no row of a joint keeps together, each with its best.

    Minimal by deletion: without any one of them some row keeps the others. One limit alone, if there
    is one, is found first.
    """
    alone = [name for name, mask in mine.limits.items() if not mask.any()]
    conflict = alone[:1] or list(mine.limits)
    for name in list(conflict):
        rest = [other for other in conflict if other != name]
        if rest and not _keeping(mine, rest).any():
            conflict = rest
    if "keeps_part" in conflict:  # what is against the part says it all
        return [infeasible_kept_part(study, mine.catalogue.joints[int(mine.catalogue.joint[0])])]
    texts = []
    for name in conflict:
        rest = [other for other in conflict if other != name]
        others = _keeping(mine, [other for other in mine.limits if other != name])
        pool = others if others.any() else _keeping(mine, rest)
        text = _best_for(study, name, mine.take(pool))
        texts.append(f"{text}, keeping {' and '.join(rest)}" if rest else text)
    return texts


def _keeping(mine: Rated, names: list[str]) -> Mask:
    """Return which rows keep all the named limits."""
    keeps = np.ones(len(mine.catalogue), dtype=np.bool_)
    for name in names:
        keeps &= mine.limits[name]
    return keeps


def _best_for(study: Study, name: str, pool: Rated) -> str:
    """Say how near to a limit the rows of `pool` come."""
    rows, rule = pool.catalogue, next(rule for rule in RATED_LIMITS if rule.field == name)
    if name == "second_ring":
        return _nearest_pair(pool)
    ref = rows.joints[int(rows.joint[0])]
    sign = rule.sign
    if rule.best or (rule.need is not None and name not in ACCURACY_TARGETS):
        value, unit = rule.needed(study, pool), rule.best or rule.unit
        allowed, sign = rule.number(study, ref), 1 if rule.side == "at most" else -1
    else:
        (check,) = catalogue_size_limits(study, rows, pool, [rule]).values()
        value, unit, allowed = check.value, check.unit, check.allowed[0]
    note = ""
    if name in ACCURACY_TARGETS:
        allowed, note = rule.number(study, ref), study.target.reserve_words
    best = int(np.argmin(sign * value))
    reached = float(value[best]) + 0.0  # no minus before a zero
    told = f"{reached:.5g} {unit}".rstrip()
    return f"{name} {allowed:g}{note}: the best that can be reached is {told} ({_ring_text(rows, best)})"


def _nearest_pair(pool: Rated) -> str:
    """Say by how much the errors of the pair that comes nearest differ, and by how much they may."""
    best = int(np.argmin(pool.pair_error_arcsec / np.maximum(pool.pair_tolerance_arcsec, 1e-9)))
    return (
        "second_ring: no pair tells its pitches apart; the errors of the nearest differ by "
        f"{pool.pair_error_arcsec[best]:.5g} arcsec at worst, where "
        f"{pool.pair_tolerance_arcsec[best]:.5g} may ({_ring_text(pool.catalogue, best)})"
    )


def _ring_text(rows: Catalogue, row: int) -> str:
    heads, second = int(rows.heads[row]), int(rows.partner_teeth()[row])
    return (
        f"module {rows.module_mm()[row]:g}, {rows.teeth[row]} teeth, bore {rows.bore_mm()[row]:g} mm, "
        f"{heads} head{'s' if heads > 1 else ''}"
        + (f", second ring of {second} teeth" if second else "")
    )


def infeasible_tool_point_reasons(study: Study, inside: Weighed) -> list[str]:
    """Return which robots cannot reach their tool-point target even with each joint's best ring."""
    rows = inside.catalogue
    reasons = []
    for field, robot in itertools.product(TOOL_POINT_TARGETS, study.robots):
        limit = rated_tool_point_limit(study.target, robot, field)
        if limit is None:
            continue
        shares = rated_tool_point_shares(inside, field)
        least = table_least_per_joint(shares, rows.joint, len(rows.joints))
        mine = np.flatnonzero([ref.robot is robot for ref in rows.joints])
        best = float(least[mine].sum())
        if best > limit:
            worst = rows.joints[int(mine[np.argmax(least[mine])])]
            reached = rated_tool_point_um(best, robot.tool_point_rule)
            reasons.append(
                f"{robot.name}: {field} {getattr(robot, field):g}{study.target.reserve_words}: the best that "
                f"can be reached is {reached:.5g} um with {rated_best_ring_words(field)} on every joint"
                f"{_parts_kept(robot)}; "
                f"{worst.joint.name} has the largest share, {100.0 * float(least[mine].max()) / best:.0f} %"
            )
    return reasons


def _parts_kept(robot: Robot) -> str:
    """Say which joints have no choice, because they keep a part."""
    kept = [f"{joint.name} keeps {joint.keeps_part}" for joint in robot.joints if joint.keeps_part]
    return f" ({', '.join(kept)})" if kept else ""


def infeasible_battery_reasons(study: Study, inside: Weighed) -> list[str]:
    """Return which robots' batteries cannot last even with the fewest heads on every joint."""
    rows = inside.catalogue
    least = table_least_per_joint(rated_battery_shares_ua(inside), rows.joint, len(rows.joints))
    reasons = []
    for robot in study.robots:
        limit = None if robot.battery is None else rated_battery_limit_ua(robot.battery)
        if robot.battery is None or limit is None:
            continue
        drawn = float(least[[ref.robot is robot for ref in rows.joints]].sum())
        if drawn > limit:
            reasons.append(
                f"{robot.name}: battery.life_min_years {robot.battery.life_min_years:g}: it gives "
                f"{limit:.5g} uA on average for so long, and the fewest heads that keep every other "
                f"limit draw {drawn:.5g} uA"
            )
    return reasons


def infeasible_ring_sum_reasons(study: Study, inside: Weighed) -> list[str]:
    """Return which robots' rings are too heavy, or turn too hard, even with the least on every joint."""
    rows, reasons = inside.catalogue, []
    for field in rated_ring_sums(study):
        least = table_least_per_joint(RING_SUMS[field](study, rows), rows.joint, len(rows.joints))
        for robot in study.robots:
            limit = rated_ring_sum_limit(robot, field)
            mine = np.flatnonzero([ref.robot is robot for ref in rows.joints])
            best = float(least[mine].sum())
            if limit is not None and best > limit:
                most = rows.joints[int(mine[np.argmax(least[mine])])]
                reasons.append(
                    f"{robot.name}: {field} {getattr(robot, field):g}: the best that can be reached is "
                    f"{best:.5g} {RING_SUM_UNITS[field]} with the least ring on every joint; "
                    f"{most.joint.name} has the largest share, "
                    f"{100.0 * float(least[mine].max()) / best:.0f} %"
                )
    return reasons


def infeasible_polling_reasons(study: Study) -> list[str]:
    """Return which robots' lines cannot poll all joints in the stated time, whatever the rings."""
    reasons = []
    for robot in study.robots:
        most = None if robot.line is None else robot.line.cycle_max_us
        taken = (
            rated_polling_cycle_us([ref for ref in catalogue_joints(study) if ref.robot is robot])
            if most
            else 0.0
        )
        if most is not None and not number_at_most(taken, most):
            reasons.append(
                f"{robot.name}: line.cycle_max_us {most:g}: polling {len(robot.joints)} joints takes "
                f"{taken:.5g} us, whatever their rings"
            )
    return reasons


def infeasible_shared_reasons(study: Study, inside: Weighed) -> list[str]:
    """Return which shared limits (ceilings, tool points, batteries) cannot hold together."""
    alone, conflict = infeasible_colliding_limits(study, inside)
    if alone:
        zones = sorted({catalogue_hole_zone(ref.joint) for ref in inside.catalogue.joints})
        return [
            _least_text(limit, infeasible_least_alone(study, inside, limit), zones)
            for limit in alone
        ]
    return [f"{' and '.join(map(_name, conflict))}: cannot hold together"]


def _name(limit: Limit) -> str:
    return limit.path if limit.robot is None else f"{limit.robot}: {limit.field}"


def _least_text(limit: Limit, least: float | None, zones: list[str]) -> str:
    """Say what is the least possible for a ceiling that cannot be met even alone.

    `zones` are those that the joints ask of their bores: they keep rings from being one part.
    """
    if limit.robot is not None:
        return f"{_name(limit)}: cannot be met"
    if least is None:
        return f"{_name(limit)} {limit.given:g}: cannot be met"
    text = f"{_name(limit)} {limit.given:g}: the least possible is {least:g}"
    if limit.wish == "ring_parts" and len(zones) > 1:
        text += f" (a part has one bore, and the joints ask the zones {', '.join(zones)})"
    return text
