"""The list of commands and options as `optimizer/cli/README.md` holds it, made from the parser.

`python -m tests.repo.option_list` prints it; a test compares it with what stands there.
"""

from __future__ import annotations

import argparse

from ringset.cli.main import parser


def option_list() -> str:
    """Return every command with its arguments, what it does and its options, as Markdown."""
    made = parser()
    (commands,) = (a for a in made._actions if isinstance(a, argparse._SubParsersAction))
    assert isinstance(commands.choices, dict)
    return "\n\n".join(_command(name, command) for name, command in commands.choices.items())


def _command(name: str, command: argparse.ArgumentParser) -> str:
    given = [_placed(action) for action in command._actions if not action.option_strings]
    title = f"### `{' '.join(['ringset', name, *given])}`"
    options = [_row(command, a) for a in command._actions if a.option_strings and a.dest != "help"]
    text = f"{title}\n\n{command.description}"
    if not options:
        return text
    return "\n".join([f"{text}\n", "| option | meaning |", "| --- | --- |", *options])


def _placed(action: argparse.Action) -> str:
    """Return an argument without an option as a usage line shows it."""
    name = str(action.metavar or "{" + ",".join(action.choices or [action.dest]) + "}")
    return {None: name, "?": f"[{name}]", "+": f"{name} [{name} ...]"}[action.nargs]  # type: ignore[index]


def _row(command: argparse.ArgumentParser, action: argparse.Action) -> str:
    value = "" if action.nargs == 0 else f" {_value(action)}"
    needed = " (required)" if action.required else ""
    meaning = command._get_formatter()._expand_help(action)
    return f"| `{action.option_strings[0]}{value}` | {meaning}{needed} |"


def _value(action: argparse.Action) -> str:
    name = str(action.metavar or (" or ".join(action.choices or ()) or action.dest.upper()))
    return f"{name} ..." if action.nargs == "+" else name


if __name__ == "__main__":
    print(option_list())  # noqa: T201
