"""Solves a study and keeps the certificate that was checked meanwhile beside its answer."""

from __future__ import annotations

from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.solving.certify import solved_certificate
from ringset.solving.pipeline import Progress, solve_in_full
from ringset.verification.certificate.document import CertifiedAnswer


def solve_certified(
    study: Study, progress: Progress | None = None, begun: float | None = None,
    previous: Answer | None = None,
) -> CertifiedAnswer:  # fmt: skip
    """Return what `solve` does, with the certificate of the answer, which names no ring part.

    `begun` is a time of `time.monotonic` from which the study's time limit counts, now by default.
    """
    solved = solve_in_full(study, progress, begun=begun, previous=previous)
    made = solved_certificate(solved) if solved.answer.rings else None
    return CertifiedAnswer(answer=solved.answer, certificate=made)
