"""Names of fields that the page lists by itself are those of the product."""

from __future__ import annotations

import re

from ringset.analysis.comparison import compare
from tests.support.places import ROOT


def test_the_page_knows_what_may_differ_of_one_ring() -> None:
    """What the page does not list it would take for a mark of another ring."""
    text = (ROOT / "api" / "page" / "analysis" / "compare.js").read_text()
    found = re.search(r"const SETTINGS = \[(.*?)\];", text, re.DOTALL)
    assert found is not None
    listed = set(re.findall(r'"(\w+)"', found[1]))
    assert listed == (set(compare._SETTINGS) - {"heads"}) | set(compare._BUDGET)
