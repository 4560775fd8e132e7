"""The command `ringset`. Imports nothing heavy until a command needs it."""

from __future__ import annotations

import argparse
import os
import sys
from typing import NoReturn

from optimizer.commands import (
    checking,
    comparing,
    explaining,
    fronting,
    preparing,
    serving,
    sheets,
    solving,
    sweeping,
)
from optimizer.commands.files import ANSWERED, BAD_INPUT, Refused

#: Each adds its commands with `add`; help lists them in this order.
GROUPS = (
    solving, explaining, fronting, sweeping, comparing, checking, sheets, preparing, serving,
)  # fmt: skip


def main(arguments: list[str] | None = None) -> int:
    """Run one command; returns the exit code: 0 answered, 1 violations, 2 bad input, 3, 4."""
    options = _parser().parse_args(arguments)
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


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="ringset",
        description="Sizes the toothed target rings of a whole robot at once, with proof.",
        epilog="Exit codes: 0 answered, 1 the judge found violations, 2 bad input, 3 impossible, "
        "4 undecided in the time given.",
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for group in GROUPS:
        group.add(commands)
    return parser


if __name__ == "__main__":
    script()
