"""One field of a study read or changed by its path."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel
from pydantic_core import to_jsonable_python

from ringset.schema.field_paths import Path
from ringset.schema.loading import load_study
from ringset.schema.study import Study


def study_value_at(study: Study, path: Path) -> Any:
    """Return what the study holds at a path, as JSON holds it; None where its part is not given."""
    node: Any = study
    for key in path.keys:
        if node is None:
            return None
        if isinstance(node, BaseModel):
            node = getattr(node, str(key))
        else:
            node = node.get(key) if isinstance(node, dict) else node[key]
    return to_jsonable_python(node)


def edited_study(study: Study, changes: Mapping[Path, Any]) -> Study:
    """Return a new study with the fields of `changes` set, checked like one read from a file.

    A part that is not given (a battery, say) is begun with the field. Raises StudyError with every
    fault found, those between fields included.
    """
    tree = json.loads(study.model_dump_json(exclude_unset=True))
    for path, value in changes.items():
        node: Any = tree
        *parts, field = path.keys
        for key in parts:
            if isinstance(node, dict) and node.get(str(key)) is None:
                node[str(key)] = {}
            node = node[key]
        node[field] = value
    return load_study(json.dumps(tree))
