"""Reading the CSV tables of this package."""

import csv
from importlib.resources import files


def read_table(name: str) -> list[dict[str, str]]:
    """Return the rows of `data/<name>` as dictionaries of text, in file order."""
    text = files("optimizer.standards").joinpath("data", name).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))
