"""The commands before there is an answer: new, fields."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from ringset.cli.files import write_whole
from ringset.errors import ANSWERED, Refused


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the commands `new` and `fields`."""
    new = commands.add_parser(
        "new", help="write a starter study", description="Write a starter study to edit."
    )
    new.add_argument("file", metavar="FILE", help="file to write; must not exist")
    new.add_argument("--joints", type=int, default=6, metavar="N", help="number of joints (6)")
    new.set_defaults(run=_new)

    fields = commands.add_parser(
        "fields",
        help="list every field of a study with its default and source",
        description="List every field of a study with its default and where that comes from.",
    )
    fields.add_argument("--json", action="store_true", help="print the JSON Schema instead")
    fields.set_defaults(run=_fields)


def _new(options: argparse.Namespace) -> int:
    if not 1 <= options.joints <= 100:
        raise Refused(f"--joints: given {options.joints}; allowed: 1 to 100")
    from ringset.schema.starter import starter_study

    path = Path(options.file)
    if options.file == "-" or path.exists() or path.is_symlink():
        raise Refused(f"{path}: given a file that exists or no file; allowed: a new name")
    write_whole(path, starter_study(options.joints))
    print(f"{path} written. Put in your bores, tip limits and target, then: ringset solve {path}")
    return ANSWERED


def _fields(options: argparse.Namespace) -> int:
    from ringset.schema.field_docs import field_list, schema_json

    sys.stdout.write(schema_json() if options.json else field_list())
    return ANSWERED
