"""The names by which certificates speak of joints, cutters and ring parts, and the numbers behind them."""

from __future__ import annotations

from collections import Counter
from functools import cached_property
from typing import Literal

import numpy as np

from ringset.arrays import Ints
from ringset.catalogue.rows import Catalogue
from ringset.rating.rated import Weighed
from ringset.rating.robot_sums import rated_part_keys
from ringset.schema.gives import Aim
from ringset.schema.shop import Shop
from ringset.standards import cutters as cutter_sets
from ringset.verification.certificate.document import Multipliers
from ringset.verification.certificate.duality import NoProof, Step


class Names:
    """Names of the joints and cutters of rated rows, and their numbers."""

    def __init__(self, shop: Shop, rated: Weighed) -> None:
        self.joints = certificate_joint_names(rated.catalogue)
        self.cutters = certificate_cutter_names(shop, rated)
        self.rings = certificate_second_names(rated)
        self._joint = {name: number for number, name in enumerate(self.joints)}
        self._cutter = {name: number for number, name in self.cutters.items()}
        self._ring = {name: number for number, name in self.rings.items()}
        self._rated = rated

    @cached_property
    def parts(self) -> dict[int, str]:
        """Names of all ring parts, first and second ones."""
        return certificate_ring_part_names(self._rated)

    @cached_property
    def _part(self) -> dict[str, int]:
        return {name: number for number, name in self.parts.items()}

    def numbers(self, kind: Literal["joints", "cutters", "ring_parts"], names: list[str]) -> Ints:
        """Return the numbers of some names, in order; raises NoProof for one that is unknown or repeated."""
        known = {"joints": self._joint, "cutters": self._cutter, "ring_parts": None}[kind]
        known = self._part if known is None else known
        try:
            found = np.array(sorted({known[name] for name in names}), dtype=np.int64)
        except KeyError as error:
            raise NoProof(f"a split by {error}, which the study does not know") from None
        if len(found) != len(names):
            raise NoProof("a split that names one thing twice")
        return found

    def written(self, bounds: Aim, step: Step, whole: set[str]) -> Multipliers:
        """Return a round that bounds a wish, with names; `whole` are the limits in whole numbers."""
        cutters: dict[str, dict[str, int]] = {}
        for (cutter, joint), many in sorted(step.cutters.items()):
            cutters.setdefault(self.cutters[cutter], {})[self.joints[joint]] = many
        seconds: dict[str, dict[str, int]] = {}
        for (ring, joint), many in sorted(step.seconds.items()):
            seconds.setdefault(self.rings[ring], {})[self.joints[joint]] = many
        heads: dict[str, dict[int, int]] = {}
        for (joint, count), many in sorted(step.heads.items()):
            heads.setdefault(self.joints[joint], {})[count] = many
        return Multipliers(
            bounds=str(bounds),
            scale=step.scale,
            whole_limits={n: int(many) for n, many in step.lines.items() if n in whole},
            real_limits={n: float(many) for n, many in step.lines.items() if n not in whole},
            joints=dict(zip(self.joints, step.joints.tolist(), strict=True)),
            cutters=cutters,
            heads=heads,
            seconds=seconds,
            lower_bound_scaled=0,
            rows_left=0,
        )

    def read(self, given: Multipliers) -> Step:
        """Return a round with numbers for names; raises NoProof for an unknown name."""
        try:
            joints = np.zeros(len(self.joints), dtype=np.int64)
            for name, many in given.joints.items():
                joints[self._joint[name]] = many
            return Step(
                scale=given.scale,
                lines={**given.whole_limits, **given.real_limits},
                joints=joints,
                cutters={
                    (self._cutter[cutter], self._joint[joint]): many
                    for cutter, by_joint in given.cutters.items()
                    for joint, many in by_joint.items()
                },
                heads={
                    (self._joint[joint], count): many
                    for joint, by_count in given.heads.items()
                    for count, many in by_count.items()
                },
                seconds={
                    (self._ring[ring], self._joint[joint]): many
                    for ring, by_joint in given.seconds.items()
                    for joint, many in by_joint.items()
                },
            )
        except KeyError as error:
            raise NoProof(f"multipliers of {error}, which the study does not know") from None
        except OverflowError:
            raise NoProof("numbers too large to be added safely") from None


def certificate_second_names(rated: Weighed) -> dict[int, str]:
    """Return the name of every second ring part of the rows, by its number; equal names get their number."""
    second = rated_part_keys(rated)[1]
    return {} if second is None else _told_apart(_part_labels(rated, second, second=True))


def certificate_ring_part_names(rated: Weighed) -> dict[int, str]:
    """Return the name of every ring part of the rows, by its number; equal names get their number."""
    first, second = rated_part_keys(rated)
    names = _part_labels(rated, first, second=False)
    return _told_apart(names if second is None else names | _part_labels(rated, second, True))


def _part_labels(rated: Weighed, number_of_row: Ints, second: bool) -> dict[int, str]:
    """Return the sizes of ring parts, by their numbers from 0."""
    numbers, first = np.unique(number_of_row, return_index=True)
    rows = rated.catalogue.take(first)
    teeth = rows.partner_teeth() if second else rows.teeth
    columns = (
        numbers.tolist(), rows.module_mm().tolist(), teeth.tolist(),
        rows.bore_mm().tolist(), rows.per_joint(lambda ref: ref.joint.face_width_mm).tolist(),
    )  # fmt: skip
    return {
        number: f"{module:g} mm, {teeth} teeth, bore {bore:g} mm, width {width:g} mm"
        for number, module, teeth, bore, width in zip(*columns, strict=True)
        if number >= 0
    }


def _told_apart(names: dict[int, str]) -> dict[int, str]:
    """Return names, each once: equal ones with their numbers behind them."""
    often = Counter(names.values())
    return {n: f"{name} #{n}" if often[name] > 1 else name for n, name in names.items()}


def certificate_joint_names(rows: Catalogue) -> list[str]:
    """Return robot/joint of every joint; a name that occurs again gets its number behind it."""
    labels = [ref.label for ref in rows.joints]
    return [f"{n} #{i}" if labels.count(n) > 1 else n for i, n in enumerate(labels)]


def certificate_cutter_names(shop: Shop, rated: Weighed) -> dict[int, str]:
    """Return the name of every cutter of the rows: its module, and its range or number of teeth."""
    numbers, first = np.unique(rated.cutter, return_index=True)
    modules = rated.catalogue.module_mm()[first]
    teeth = rated.catalogue.teeth[first]
    names = {}
    for number, module, count in zip(
        numbers.tolist(), modules.tolist(), teeth.tolist(), strict=True
    ):
        if number < 0:
            continue
        more = ""
        if shop.cutting == "disc_special":
            more = f" {count} teeth"
        elif shop.cutting != "hob":
            more = f" range {cutter_sets.standard_disc_range_index(shop.cutting, count) + 1}"
        names[number] = f"{module:g} mm{more}"
    return names
