"""A solved study: its answer, and what the search knows for more questions."""

from __future__ import annotations

from dataclasses import dataclass

from ringset.rating.rated import Weighed
from ringset.reduction.units import Units
from ringset.schema.answer import Answer
from ringset.schema.study import Study
from ringset.search.lexicographic import Solver
from ringset.search.state.result import Choice
from ringset.verification.certificate.document import Certificate


@dataclass(frozen=True)
class Solved:
    """A solved study (in canonical order), its judged answer, and what the search knows for more questions.

    `inside` are the rows inside all limits. Without any search (a joint has no ring) there are neither
    `units`, in which material and money are counted, nor solver nor choice. `choosing_s` is how long the
    search took. `certificate` is what the answer's bounds were checked by, not sealed yet; None where none
    was made.
    """

    study: Study
    answer: Answer
    inside: Weighed
    units: Units | None = None
    solver: Solver | None = None
    choice: Choice | None = None
    choosing_s: float = 0.0
    certificate: Certificate | None = None
