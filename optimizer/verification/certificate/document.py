"""What proves an answer's bounds, in names that people and programs can read. Data only.

A certificate belongs to one study and one answer. For every wish it states the value, what is held before
it, and the multipliers that prove that nothing less is possible (`duality`), round by round. `verify`
checks it against the study alone. A bound that came from search is said to have no short certificate.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from typing import Annotated, Literal

import numpy as np
from pydantic import Field, StringConstraints

from ringset.catalogue.rows import Catalogue
from ringset.rating.rated import Rated
from ringset.rating.robot_sums import rated_part_keys
from ringset.reduction.table import HEADS_BASE
from ringset.schema.answer import Count, Label, RingMm, Sha256, Teeth, Text, Whole
from ringset.schema.base import AnswerModel
from ringset.schema.equipment import HeadCount, ModuleMm
from ringset.schema.gives import AIM_PATTERN, Aim
from ringset.schema.shop import Shop
from ringset.schema.study import Wish
from ringset.standards import cutters as cutter_sets
from ringset.verification.certificate.duality import NoProof, Step

#: What is said of a stage whose bound has no short proof.
BY_SEARCH = "by search; no short certificate"

#: What is added up in 64 bits.
Multiplier = Annotated[int, Field(ge=-(2**61), le=2**61)]
NotNegative = Annotated[int, Field(ge=0, le=2**61)]
Heads = Annotated[int, Field(ge=1, lt=HEADS_BASE)]


#: A wish, or two of them as a weighed sum.
AimLabel = Annotated[str, StringConstraints(max_length=80, pattern=AIM_PATTERN)]


def _absent(value: object) -> bool:
    return not value


class Multipliers(AnswerModel):
    """One round: multipliers in 1/scale of a wish's whole units, and what they come to."""

    bounds: AimLabel = Field(
        description="The wish that they bound, or the sum: the stage's own, or one held, to drop rows "
        "that no answer uses which holds it."
    )
    scale: Annotated[int, Field(ge=1, le=2**61)] = Field(
        description="All multipliers are counted in 1/scale."
    )
    whole_limits: dict[Label, NotNegative] = Field(
        description="Of limits in whole numbers, per unit."
    )
    real_limits: dict[Label, Annotated[float, Field(ge=0.0, le=2.0**61)]] = Field(
        description="Of limits in real numbers, per kg, per unit of money, per um^2 or um, per uA."
    )
    joints: dict[Label, Multiplier] = Field(description="Of taking one ring, by robot/joint.")
    cutters: dict[Label, dict[Label, NotNegative]] = Field(
        description="By cutter, then robot/joint."
    )
    heads: dict[Label, dict[Heads, Multiplier]] = Field(
        description="By robot/joint, then number of heads."
    )
    seconds: dict[Label, dict[Label, NotNegative]] = Field(
        default={}, exclude_if=_absent, description="By second ring part, then robot/joint."
    )
    lower_bound_scaled: Annotated[int, Field(ge=-(2**63), lt=2**63)] = Field(
        description="Least that any answer of the rows in question comes to, in 1/scale."
    )
    rows_left: Count = Field(description="Rows that an answer below the value could still use.")


class ChosenRing(AnswerModel):
    """One ring of an answer: enough to find its row."""

    robot: Label
    joint: Label
    module_mm: ModuleMm
    teeth: Teeth
    bore_mm: RingMm
    heads: HeadCount
    second_teeth: Teeth | None = Field(
        default=None,
        exclude_if=_absent,
        description="Teeth of its second ring, where the joint asks one.",
    )


class StageProof(AnswerModel):
    """One wish: what it came to, what is held, and the proof that less is impossible.

    Where the study's `wishes.give` gives some of a wish up, `value` is its least alone, and a second proof
    (`again`) says that the answer takes no more of it than the others ask.
    """

    wish: Wish
    unit: Label
    value: Whole
    bound: Whole
    ceilings: dict[Label, Annotated[float, Field(ge=0.0, le=1e12)]] = Field(
        description="Ceilings of the study, by wish."
    )
    held: dict[AimLabel, Whole] = Field(
        description="Wishes minimised before, or sums of two, in their whole units: what they may come to."
    )
    proof: Literal["multipliers", "listing", "search"] = Field(
        description="multipliers: they refute every smaller value. listing: what they leave is listed "
        "and holds no better answer. search: no short certificate."
    )
    rows: Literal["all", "sifted", "none"] = Field(
        description="all: every ring inside its limits. sifted: those that the exact reduction leaves."
    )
    steps: Annotated[list[Multipliers], Field(max_length=100)]
    note: Text
    sum: AimLabel | None = Field(
        default=None,
        exclude_if=_absent,
        description="What is minimised, where it is the sum of this wish and the one before it.",
    )
    again: bool = Field(
        default=False,
        exclude_if=_absent,
        description="Of a wish given up: brought down at the end, with all others held.",
    )
    reached_by: Annotated[list[ChosenRing], Field(max_length=20_000)] = Field(
        default=[],
        exclude_if=_absent,
        description="Rings that reach the value, where the answer takes more of a wish that is given up.",
    )


class Certificate(AnswerModel):
    """The proofs of an answer's stages."""

    schema_version: Literal[1] = 1
    title: Label
    study_sha256: Sha256
    material_unit_kg: Annotated[float, Field(gt=0.0, le=1e20)]
    cost_unit: Annotated[float, Field(gt=0.0, le=1e20)] | None = Field(
        description="Money is counted in whole units of this; null where no wish is about it."
    )
    stages: Annotated[list[StageProof], Field(max_length=9)] = Field(
        description="One for every wish in order, then one for every wish that is brought down again."
    )
    seal: Annotated[str, StringConstraints(max_length=64)] = Field(
        default="", description="SHA-256 of all the rest: the file is as it was written."
    )

    def sealed(self) -> Certificate:
        """Return the certificate with the seal of its content."""
        text = self.model_copy(update={"seal": ""}).model_dump_json()
        return self.model_copy(update={"seal": hashlib.sha256(text.encode()).hexdigest()})

    def to_json(self) -> str:
        """Return the certificate as JSON text, the same bytes for the same certificate."""
        return self.model_dump_json(indent=2) + "\n"


class Names:
    """Names of the joints and cutters of rated rows, and their numbers."""

    def __init__(self, shop: Shop, rated: Rated) -> None:
        self.joints = certificate_joint_names(rated.catalogue)
        self.cutters = cutter_names(shop, rated)
        self.rings = second_names(rated)
        self._joint = {name: number for number, name in enumerate(self.joints)}
        self._cutter = {name: number for number, name in self.cutters.items()}
        self._ring = {name: number for number, name in self.rings.items()}

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


def second_names(rated: Rated) -> dict[int, str]:
    """Return the name of every second ring part of the rows, by its number; equal names get their number."""
    second = rated_part_keys(rated)[1]
    if second is None:
        return {}
    numbers, first = np.unique(second, return_index=True)
    rows = rated.catalogue.take(first)
    columns = (
        numbers.tolist(), rows.module_mm().tolist(), rows.partner_teeth().tolist(),
        rows.bore_mm().tolist(), rows.per_joint(lambda ref: ref.joint.face_width_mm).tolist(),
    )  # fmt: skip
    names = {
        number: f"{module:g} mm, {teeth} teeth, bore {bore:g} mm, width {width:g} mm"
        for number, module, teeth, bore, width in zip(*columns, strict=True)
        if number >= 0
    }
    often = Counter(names.values())
    return {n: f"{name} #{n}" if often[name] > 1 else name for n, name in names.items()}


def certificate_joint_names(rows: Catalogue) -> list[str]:
    """Return robot/joint of every joint; a name that occurs again gets its number behind it."""
    labels = [ref.label for ref in rows.joints]
    return [f"{n} #{i}" if labels.count(n) > 1 else n for i, n in enumerate(labels)]


def cutter_names(shop: Shop, rated: Rated) -> dict[int, str]:
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
            more = f" range {cutter_sets.disc_range_index(shop.cutting, count) + 1}"
        names[number] = f"{module:g} mm{more}"
    return names
