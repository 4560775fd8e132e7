"""Open proofs of answers, read as a stranger would read them: files alone, and the variables' table."""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Callable, Iterator
from dataclasses import replace

from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.solving.certify import certify
from ringset.solving.pipeline import solve
from ringset.verification.certificate.document import Certificate
from ringset.verification.open_proofs.proofs import (
    NotProven,
    OpenProof,
    OpenProofs,
    open_proofs,
    open_stage_name,
)
from tests.support.cutting_planes import check_proof
from tests.support.pseudo_boolean import Inequality, ProofRefused, read_opb


def proven_stages(certificate: Certificate) -> list[str]:
    """Return the names of the stages that have a proof."""
    return [open_stage_name(stage) for stage in certificate.stages if stage.proof != "search"]


def open_proofs_of(study: Study) -> tuple[Answer, Certificate, OpenProofs] | None:
    """Return an answer with its certificate and all open proofs that it has; None without rings.

    A tree may have nodes that do not close in the rounded numbers of the formula: such a stage is left out.
    """
    answer = solve(study)
    if not answer.rings:
        return None
    certificate = certify(study, answer)
    trees = {open_stage_name(stage) for stage in certificate.stages if stage.proof == "tree"}
    names = proven_stages(certificate)
    for name in trees:
        try:
            open_proofs(study, answer, certificate, only=[name])
        except NotProven:
            names.remove(name)
    return answer, certificate, open_proofs(study, answer, certificate, only=names)


def accepted(stage: OpenProof) -> bool:
    """Say whether the small checker accepts a proof."""
    try:
        check_proof(stage.formula, stage.proof)
    except ProofRefused:
        return False
    return True


def values_in_answer(names: str) -> dict[str, int]:
    """Return the value that every variable has in the answer, by the table of names."""
    return {row["variable"]: int(row["in_answer"]) for row in csv.DictReader(io.StringIO(names))}


def broken(formula: list[Inequality], values: dict[str, int]) -> list[int]:
    """Return which constraints of a formula, from 0, some values do not meet."""
    return [
        place
        for place, one in enumerate(formula)
        if sum(a * values[x] for x, a in one.numbers.items()) < one.right
    ]


def falls_short_by(formula: str, names: str) -> tuple[list[int], int]:
    """Return which constraints the answer does not meet, and by how much it misses the last one."""
    known, values = read_opb(formula), values_in_answer(names)
    last = known[-1]
    return broken(known, values), last.right - sum(a * values[x] for x, a in last.numbers.items())


#: A way to spoil a formula and its proof: returns both, or None where there is nothing to spoil.
Tamper = Callable[[OpenProof, random.Random], tuple[str, str] | None]


def _one_line(text: str, draw: random.Random, rule: str) -> tuple[list[str], int] | None:
    lines = text.splitlines()
    found = [place for place, line in enumerate(lines) if line.startswith(rule)]
    return (lines, draw.choice(found)) if found else None


def allows_the_answer(stage: OpenProof, draw: random.Random) -> tuple[str, str]:
    """Let the last constraint ask for what the answer comes to, and no less: then it is met."""
    lines = stage.formula.splitlines()
    left, _, right = lines[-1].removesuffix(" ;").rpartition(" >= ")
    lines[-1] = f"{left} >= {int(right) - draw.randint(1, 3)} ;"
    return "\n".join(lines) + "\n", stage.proof


def drops_what_counts(stage: OpenProof, draw: random.Random) -> tuple[str, str] | None:
    """Leave out the constraint that asks for less: the answer meets all others."""
    text = stage.proof.replace(f"\nf {len(read_opb(stage.formula))};", f"\nf {_fewer(stage)};")
    return "\n".join(stage.formula.splitlines()[:-1]) + "\n", text


def _fewer(stage: OpenProof) -> int:
    return len(read_opb(stage.formula)) - 1


def changes_a_multiplier(stage: OpenProof, draw: random.Random) -> tuple[str, str] | None:
    """Change one number of a sum."""
    found = _one_line(stage.proof, draw, "pol ")
    if found is None:
        return None
    lines, place = found
    words = lines[place].removesuffix(";").split()
    numbers = [n for n, word in enumerate(words) if word.lstrip("-").isdigit()]
    chosen = draw.choice(numbers)
    words[chosen] = str(int(words[chosen]) + draw.choice((-7, -1, 1, 2, 50)))
    lines[place] = " ".join(words) + ";"
    return stage.formula, "\n".join(lines) + "\n"


def drops_a_line(stage: OpenProof, draw: random.Random) -> tuple[str, str] | None:
    """Leave out a line of the proof."""
    found = _one_line(stage.proof, draw, draw.choice(("pol ", "rup ")))
    if found is None:
        return None
    lines, place = found
    del lines[place]
    return stage.formula, "\n".join(lines) + "\n"


def turns_a_sign(stage: OpenProof, draw: random.Random) -> tuple[str, str] | None:
    """Let the last constraint ask for more instead of less: the answer, or another one, meets it."""
    lines = stage.formula.splitlines()
    left, _, right = lines[-1].removesuffix(" ;").rpartition(" >= ")
    terms = " ".join(word.translate(str.maketrans("+-", "-+")) for word in left.split())
    lines[-1] = f"{terms} >= {-int(right)} ;"
    return "\n".join(lines) + "\n", stage.proof


def _both(first: Tamper, second: Tamper) -> Tamper:
    """Return the tampering that does one after the other."""

    def spoil(stage: OpenProof, draw: random.Random) -> tuple[str, str] | None:
        made = first(stage, draw)
        return (
            None if made is None else second(replace(stage, formula=made[0], proof=made[1]), draw)
        )

    return spoil


#: Those that leave the formula as it is: what is accepted is still true, and most are refused.
SPOILED: dict[str, Tamper] = {
    "changes a multiplier": changes_a_multiplier,
    "drops a line": drops_a_line,
}
#: Those after which the formula can be met: no proof of it may be accepted.
_MET: dict[str, Tamper] = {
    "allows the answer": allows_the_answer,
    "drops what counts": drops_what_counts,
    "turns a sign": turns_a_sign,
}
UNTRUE = _MET | {
    f"{one}, {other}": _both(_MET[one], SPOILED[other]) for one in _MET for other in SPOILED
}


def tampered(
    stage: OpenProof, kinds: dict[str, Tamper], draw: random.Random, each: int
) -> Iterator[tuple[str, bool]]:
    """Yield, for so many spoiled proofs of every kind, the kind and whether the checker accepts it."""
    for kind, spoil in kinds.items():
        for _ in range(each):
            made = spoil(stage, draw)
            if made is None or made == (stage.formula, stage.proof):
                continue
            formula, proof = made
            try:
                check_proof(formula, proof)
            except ProofRefused:
                yield kind, False
            else:
                yield kind, True
