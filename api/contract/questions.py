"""What can be asked of a study, and with which options.

A further question is a member of `Find`, its options here and in `query_options.py`, a function in
`workers/tasks.py`, and a route that fetches its result.
"""

from __future__ import annotations

from typing import Any, Literal

Options = dict[str, Any]

#: What can be asked.
Find = Literal["answer", "front", "blockers", "sheets"]

#: Which options each takes; a row of a sweep is not asked for by itself.
OPTIONS: dict[Find, tuple[str, ...]] = {
    "answer": (),
    "front": ("over", "targets_arcsec", "step"),
    "blockers": ("fixed", "step_percent"),
    "sheets": ("only",),
}
