"""The command `ringset`. Imports nothing heavy until a command needs it."""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Sequence
from importlib.metadata import entry_points
from typing import NoReturn

from ringset.cli import (
    assumptions,
    check,
    compare,
    front,
    losses,
    new,
    prove,
    sheet,
    solve,
    sweep,
    why,
)
from ringset.errors import ANSWERED, BAD_INPUT, Refused

#: Each adds its commands with `add`; help lists them in this order, and after them those of other parts.
GROUPS = (solve, assumptions, why, losses, front, sweep, compare, check, prove, sheet, new)
#: Entry points under this name add the commands of parts that stand on the optimizer, such as the service.
ENTRY_POINTS = "ringset.commands"


def main(arguments: list[str] | None = None) -> int:
    """Run one command; returns the exit code: 0 answered, 1 violations, 2 bad input, 3, 4."""
    begun = time.monotonic()
    arguments = sys.argv[1:] if arguments is None else arguments
    options = parser(arguments).parse_args(arguments)
    options.begun = begun  # from here a study's time is counted
    if sys.stdout is None:
        print("standard output: closed", file=sys.stderr)
        return BAD_INPUT
    try:
        code = int(options.run(options))
        sys.stdout.flush()
        return code
    except Refused as refused:
        print(refused, file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:
        _silence_stdout()  # the reader has seen enough
        return ANSWERED
    except OSError as error:
        _silence_stdout()
        print(f"standard output: cannot be written ({error.strerror})", file=sys.stderr)
        return BAD_INPUT


def _silence_stdout() -> None:
    """Keep Python from complaining at exit about what could not be written."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)


def script() -> NoReturn:
    """Entry point of the installed command."""
    sys.exit(main())


def parser(arguments: Sequence[str] = ()) -> argparse.ArgumentParser:
    """Return the parser; where `arguments` name a command of ours, those of other parts are left out."""
    made = argparse.ArgumentParser(
        prog="ringset",
        description="Sizes the toothed target rings of a whole robot at once, with proof.",
        epilog="Exit codes: 0 answered, 1 the judge found violations, 2 bad input, 3 impossible, "
        "4 undecided in the time given.",
    )
    commands = made.add_subparsers(required=True, metavar="COMMAND")
    for group in GROUPS:
        group.add(commands)
    if not arguments or arguments[0] not in commands.choices:
        for entry in entry_points(group=ENTRY_POINTS):
            entry.load()(commands)
    return made
