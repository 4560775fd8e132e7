"""Reading the CSV tables of this package."""

import csv
from importlib.resources import files


def read_standard_table(name: str) -> list[dict[str, str]]:
    """Return the rows of `data/<name>` as dictionaries of text, in file order."""
    text = files("ringset.standards").joinpath("data", name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


def standard_table_names() -> tuple[str, ...]:
    """Return the names of the tables in `data/`, in alphabetical order.

    >>> "modules" in standard_table_names()
    True
    """
    folder = files("ringset.standards").joinpath("data")
    names = (file.name for file in folder.iterdir())
    return tuple(sorted(name.removesuffix(".csv") for name in names if name.endswith(".csv")))


def standard_table_rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a table as text, a source in each; KeyError if there is no such table."""
    if name not in standard_table_names():
        raise KeyError(name)
    return read_standard_table(f"{name}.csv")
