"""What proves an answer's bounds, in names that people and programs can read. Data only.

A certificate belongs to one study and one answer. For every wish it states the value, what is held before
it, and the multipliers that prove that nothing less is possible (`duality`), round by round.
`verify_certificate` checks it against the study alone. What rounds leave is split into nodes, with rounds of
their own (`tree`). A bound of which no such proof was found in time is said to come from search.
"""

from __future__ import annotations

import hashlib
from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from ringset.reduction.table import HEADS_BASE
from ringset.schema.answer import Answer, Count, Label, RingMm, Sha256, Teeth, Text, Whole
from ringset.schema.base import AnswerModel
from ringset.schema.equipment import HeadCount, ModuleMm
from ringset.schema.gives import AIM_PATTERN
from ringset.schema.study import Wish

#: Most nodes of a proof by splitting rows; one that needs more is given up.
NODES_MAX = 50_000
#: What is said of a stage whose bound comes from search, by why it has no proof.
BY_SEARCH = "by search; no certificate"
SEARCHED = {
    "": BY_SEARCH,
    "open": f"{BY_SEARCH}; not proven",
    "time": f"{BY_SEARCH}, for the time ended before the tree was whole",
    "nodes": f"{BY_SEARCH}, for the tree has more nodes than it was given",
    "size": f"{BY_SEARCH}, for the tree makes too large a file",
}

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


class HeadsSplit(AnswerModel):
    """A joint has one of these numbers of heads; in the second child it has another."""

    by: Literal["heads"]
    joint: Label
    heads: Annotated[list[Heads], Field(min_length=1, max_length=HEADS_BASE)]


class AmountSplit(AnswerModel):
    """A joint takes a row with at most so much of a limit or of the wish; in the second child another row.

    Of rows with just that amount those up to `row` are meant, in the order of all rows inside their limits.
    """

    by: Literal["amount"]
    joint: Label
    line: Label = Field(description="The limit, by its name, or the wish that is bounded.")
    amount: Annotated[float, Field(ge=-(2.0**61), le=2.0**61)]
    row: Annotated[int, Field(ge=-1, lt=2**61)]


class CountSplit(AnswerModel):
    """At most so many of some cutters or ring parts are used; in the second child more of them.

    `joints` names ring parts by joints: all that the rows left of these could need.
    """

    by: Literal["cutters", "ring_parts", "joints"]
    members: Annotated[list[Label], Field(min_length=1, max_length=100_000)]
    most: Count


#: How a node is split in two; every answer of the node is in one of its children, by how they are made.
Split = Annotated[HeadsSplit | AmountSplit | CountSplit, Field(discriminator="by")]


class Node(AnswerModel):
    """Rows of a tree that may hold a better answer: the rounds on them, and how they are closed."""

    steps: Annotated[list[Multipliers], Field(max_length=100)] = Field(
        default=[], exclude_if=_absent
    )
    closed: Literal["multipliers", "listing", "empty", "split"] = Field(
        description="multipliers, listing: as of a stage. empty: a joint has no row left. split: by its two "
        "children, whose nodes come next: all of the first child's, then all of the second's."
    )
    split: Split | None = Field(default=None, exclude_if=_absent)


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
    proof: Literal["multipliers", "listing", "tree", "search"] = Field(
        description="multipliers: they refute every smaller value. listing: what they leave is listed "
        "and holds no better answer. tree: what they leave is split until every node is closed. search: no "
        "certificate."
    )
    rows: Literal["all", "sifted", "covered", "none"] = Field(
        description="all: every ring inside its limits. sifted: those that the exact reduction leaves. "
        "covered: those that are left when rings that no answer of so few ring parts can use leave as well."
    )
    steps: Annotated[list[Multipliers], Field(max_length=100)]
    tree: Annotated[list[Node], Field(max_length=NODES_MAX)] = Field(
        default=[],
        exclude_if=_absent,
        description="Nodes in depth-first order; the first is of the rows that the steps leave.",
    )
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


class CertifiedAnswer(AnswerModel):
    """An answer with the proofs of its wishes; without a certificate where it has no rings."""

    answer: Answer
    certificate: Certificate | None
