"""The proofs of an answer's bounds as files that programs of others can check."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field

import numpy as np

from ringset.arrays import Mask
from ringset.catalogue.enumerate import catalogue
from ringset.rating.rate import rate
from ringset.rating.rated import Rated
from ringset.reduction.from_ratings import reduction_table
from ringset.reduction.table import FirstRows, Table
from ringset.reduction.units import reduction_units
from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.verification.certificate.claims import Claim, certificate_claims
from ringset.verification.certificate.document import Certificate, StageProof
from ringset.verification.certificate.duality import NoProof
from ringset.verification.certificate.names import Names
from ringset.verification.certificate.rounds import replayed_certificate_rounds
from ringset.verification.certificate.verify import certified_answer_rows, verify_certificate
from ringset.verification.open_proofs.columns import OpenColumns, open_column_names, open_columns
from ringset.verification.open_proofs.combination import Alive, Tightening
from ringset.verification.open_proofs.formats import ProofText, VeripbVersion, opb_text
from ringset.verification.open_proofs.listing import write_open_listing
from ringset.verification.open_proofs.program import (
    OpenProgram,
    ProgramNeeds,
    open_joint_groups,
    open_program,
)
from ringset.verification.open_proofs.refutation import Refutation
from ringset.verification.open_proofs.trees import write_open_tree

#: The table of variables beside the proofs.
NAMES_FILE = "names.csv"


class NoOpenProof(ValueError):
    """No proof can be written; the text says of which stage and why."""


class NotProven(NoOpenProof):
    """A stage that has no proof, or none that can be written out."""


@dataclass(frozen=True)
class OpenProof:
    """One stage's proof: its name, formula (OPB) and proof (VeriPB) as text, and how large they are."""

    name: str
    formula: str
    proof: str
    rows: int
    lines: int


@dataclass(frozen=True)
class OpenProofs:
    """The proofs of an answer's stages, and what their variables stand for (CSV)."""

    stages: list[OpenProof]
    names: str

    def files(self) -> dict[str, str]:
        """Return all files by name."""
        found = {NAMES_FILE: self.names}
        for stage in self.stages:
            found |= {f"{stage.name}.opb": stage.formula, f"{stage.name}.pbp": stage.proof}
        return found


def open_proofs(
    study: Study, answer: Answer, certificate: Certificate,
    *, version: VeripbVersion = "3.0", only: Collection[str] | None = None,
) -> OpenProofs:  # fmt: skip
    """Return the proofs of an answer's bounds, or of the stages that `only` names, in an open format.

    The certificate is checked first. Raises NoOpenProof where it is not one of study and answer, and
    NotProven where a stage has no proof: the text names field, given and allowed.
    """
    found = verify_certificate(study, answer, certificate)
    refused = [f"{one.wish}: {one.text}" for one in found.stages if one.state == "refused"]
    if found.faults or refused:
        raise NoOpenProof("\n".join([*found.faults, *refused]))
    names = [open_stage_name(stage) for stage in certificate.stages]
    unknown = [name for name in only or () if name not in names]
    if unknown:
        raise NoOpenProof(f"only: given {unknown[0]}; allowed: {', '.join(names)}")
    study = study.canonical()
    rated = rate(study, catalogue(study))
    rated = rated.take(rated.inside)
    writer = _Writer.of(study, rated, answer, version)
    claims = certificate_claims(study, answer, reduction_units(writer.table))
    stages = [
        writer.stage(claim, stage)
        for claim, stage in zip(claims, certificate.stages, strict=True)
        if only is None or open_stage_name(stage) in only
    ]
    return OpenProofs(stages, writer.names_text())


def open_stage_name(stage: StageProof) -> str:
    """Return the name of a stage's files."""
    return f"{stage.wish}_again" if stage.again else str(stage.wish)


@dataclass
class _Writer:
    """Writes the stages of one answer over the same variables."""

    rated: Rated
    table: Table
    columns: OpenColumns
    names: Names
    chosen: FirstRows
    title: str
    version: VeripbVersion
    used: Mask = field(init=False)

    def __post_init__(self) -> None:
        self.used = np.zeros(self.columns.count, dtype=np.bool_)

    @staticmethod
    def of(study: Study, rated: Rated, answer: Answer, version: VeripbVersion) -> _Writer:
        """Return the writer of an answer to a study with its rated rows."""
        table, chosen = reduction_table(study, rated), certified_answer_rows(rated, answer)
        assert chosen is not None  # the check of the certificate has found them
        return _Writer(
            rated, table, open_columns(table), Names(study.shop, rated), FirstRows(np.sort(chosen)),
            study.title, version,
        )  # fmt: skip

    def names_text(self) -> str:
        """Return what the variables used so far stand for."""
        return open_column_names(
            self.columns, self.rated, self.names, self.table, self.chosen, self.used
        )

    def stage(self, claim: Claim, stage: StageProof) -> OpenProof:
        """Return the proof of one stage."""
        name = open_stage_name(stage)
        if stage.proof == "search":
            raise NotProven(
                f"{name}: given a bound {stage.note}; allowed: one with a proof, or --only others"
            )
        try:
            program = open_program(
                claim, claim.table(self.table, stage.rows), self.columns, self.names.joints,
                self._needs(stage),
            )  # fmt: skip
            text = ProofText(len(program.all), self.version)
            self._refute(program, claim, stage, text)
        except NoProof as error:
            raise NotProven(f"{name}: {error}") from None
        self.used |= program.used[: self.columns.count]
        head = self._head(claim, stage)
        return OpenProof(
            name, opb_text(program, head), text.text(), len(program.rest.table), len(text)
        )

    def _needs(self, stage: StageProof) -> ProgramNeeds:
        """Return what the steps of a stage ask of the program."""
        steps = [*stage.steps, *(step for node in stage.tree for step in node.steps)]
        joints = {name for step in steps for name in step.heads}
        numbers = {self.names.joints.index(name) for name in joints}
        groups = open_joint_groups(self.table, numbers)
        if groups - set(self.columns.patterns):
            raise NoProof("a robot with more patterns of heads than can be written out")
        splits = [node.split for node in stage.tree if node.split is not None]
        counted = {split.by for split in splits}
        return ProgramNeeds(
            frozenset(groups), bool(counted & {"ring_parts", "joints"}), "cutters" in counted,
            len(splits),
        )  # fmt: skip

    def _refute(
        self, program: OpenProgram, claim: Claim, stage: StageProof, text: ProofText
    ) -> None:
        """Write the rounds of a stage and what closes it."""
        alive = Alive(program.used, np.zeros(program.variables, dtype=np.bool_))
        root = Refutation(program, claim, text, Tightening(program), alive, dict(program.limits))
        root.use_limits()
        for given in stage.steps:
            aim = claim.aim_named(given.bounds)
            assert aim is not None
            if not root.closed:
                root.round(self.names.read(given), aim)
        if root.closed:
            text.conclude([])
        elif stage.proof == "tree":
            rest = claim.allowed(claim.table(self.table, stage.rows))
            rest = replayed_certificate_rounds(rest, self.names, claim, stage.steps).rest
            write_open_tree(root, rest, self.names, claim, stage.tree)
        elif stage.proof == "listing":
            write_open_listing(root)
        else:
            raise NoProof("rounded to the safe side, the proof does not close")

    def _head(self, claim: Claim, stage: StageProof) -> list[str]:
        """Return what the formula says at its top."""
        rows = {
            "all": "all rows inside their limits",
            "sifted": "the rows that the exact reduction leaves; that no better answer needs another "
            "row rests on its theorems",
            "covered": "the rows that the exact reduction and rings of so few ring parts leave; that no "
            "better answer needs another row rests on their theorems",
        }[stage.rows]
        return [
            f"{self.title}: can {claim.wish} come to less than {claim.value} ({claim.unit})?",
            f"rows: {rows}",
            f"x1 to x{self.columns.rows} are rows, the others ring parts, cutters and patterns of heads; "
            f"{NAMES_FILE} says which",
            "limits in real numbers are rounded so that no allowed answer is lost",
            "no values of the variables meet all constraints below, the last of which asks for less",
        ]
