"""Limits, joints, blockers and reliefs in the terms of the study."""

from __future__ import annotations

from ringset.analysis.explanation.joint_conflicts import explained_best_values
from ringset.analysis.explanation.models import Collision, Member, NewValue, Way
from ringset.analysis.explanation.reliefs import Relief
from ringset.analysis.explanation.widened import Universe
from ringset.catalogue.joints import catalogue_joints
from ringset.infeasibility.models import Blocker
from ringset.infeasibility.reasons import infeasible_no_fit
from ringset.rating.stated_limits import Limit
from ringset.schema.field_paths import resolve_field_path
from ringset.schema.study import Study


class Words:
    """Names limits and joints as the study does."""

    def __init__(self, study: Study) -> None:
        self.study = study
        self.refs = catalogue_joints(study.canonical())
        names = [ref.joint.name for ref in self.refs]
        self.labels = [
            ref.joint.name if names.count(ref.joint.name) == 1 else ref.label for ref in self.refs
        ]

    def member(self, limit: Limit, best: float | None = None) -> Member:
        """Return a limit as a member of a blocker."""
        path = resolve_field_path(self.study, limit.path).text
        return Member(path=path, text=self.text(limit), best=best)

    def owned(self, limit: Limit) -> str:
        """Return a limit with the joint or robot it belongs to."""
        owner = self.labels[limit.joint] if limit.joint is not None else limit.robot
        if limit.head:
            owner = limit.head
        return limit.text if owner is None else f"{owner}: {limit.text}"

    def text(self, limit: Limit) -> str:
        """Return a limit over joints with its robot where there are several."""
        several = limit.robot is not None and len(self.study.robots) > 1
        return f"{limit.robot}: {limit.text}" if several else limit.text

    def collision(self, world: Universe, blocker: Blocker) -> Collision:
        """Return a blocker with its words."""
        shared = [self.member(limit) for limit in blocker.shared]
        joints = [
            Member(path=self.refs[index].label, text=self.labels[index], whole_joint=True)
            for index in blocker.joints
        ]
        best = explained_best_values(world, blocker)
        limits = [self.member(world.limits[n], best.get(n)) for n in blocker.limits]
        if blocker.joint is not None and not limits:  # no toothing within reach at all
            limits = [self._beyond_reach(world, blocker.joint)]
        if blocker.joint is not None:
            label = self.labels[blocker.joint]
            text = f"{label}: {', '.join(m.told for m in limits)}"
            return Collision(joint=label, members=limits, text=text)
        text = " and ".join(m.text for m in shared)
        if joints:
            text += f" with {explained_names([m.text for m in joints])}"
        return Collision(joint=None, members=[*shared, *joints], text=text)

    def _beyond_reach(self, world: Universe, index: int) -> Member:
        """Return the limit that leaves a joint without any ring, however far it is widened."""
        study = self.study.canonical()
        found = infeasible_no_fit(study, self.refs[index])
        if found.field == "shop.modules":
            return Member(path=found.field, text="modules on offer")
        owned = (limit for limit in world.limits if limit.field == found.field)
        limit = next(limit for limit in owned if limit.joint in (index, None))
        return self.member(limit).model_copy(update={"note": found.reached})

    def way(self, relief: Relief) -> Way:
        """Return a relief with its words."""
        changes = [
            NewValue(
                path=resolve_field_path(self.study, limit.path).text,
                given=list(limit.counts)
                if limit.side == "counts"
                else limit.json_value(limit.given),
                value=limit.json_value(value),
                text=self._change(limit, value),
            )
            for limit, value in relief.values
        ]
        return Way(changes=changes, asks=relief.asks)

    def _change(self, limit: Limit, value: float) -> str:
        prefix = self.owned(limit).removesuffix(limit.text)
        return f"{prefix}{limit.say(value)} instead of {_short(limit)}"


def _short(limit: Limit) -> str:
    if limit.side == "counts":
        return limit.text
    return f"{limit.given:.10g}"


def explained_names(names: list[str]) -> str:
    """Return names as people list them."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
