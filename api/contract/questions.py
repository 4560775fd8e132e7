"""What can be asked of a study, and with which options.

A further question is a member of `Find`, its options here and in `query_options.py`, a function in
`workers/tasks.py`, and a route that fetches its result.
"""

from __future__ import annotations

from typing import Any, Literal

Options = dict[str, Any]

#: What can be asked.
Find = Literal[
    "answer", "certificate", "steps", "losses", "front", "blockers", "assumptions", "band", "sheets"
]

#: Questions whose result depends on which fields a study leaves at their defaults, not only on their values.
OF_DEFAULTS: tuple[Find, ...] = ("assumptions", "band")

#: Questions whose result names the ring parts of the answer, so that it may keep those of an earlier one.
NAMING: tuple[Find, ...] = ("answer", "certificate", "sheets")

#: Which options each takes; a row of a sweep is not asked for by itself.
OPTIONS: dict[Find, tuple[str, ...]] = {
    "answer": (),
    "certificate": (),
    "steps": (),
    "losses": (),
    "front": ("over", "targets_arcsec", "step"),
    "blockers": ("fixed", "step_percent"),
    "assumptions": (),
    "band": (),
    "sheets": ("only",),
}
