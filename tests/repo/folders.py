"""The one table of folders: in the order in which data flows, and which folders each may import.

A folder may import from itself and from those named; `GROUND` may be imported everywhere. The tests of the
architecture are made from this table, so a new folder begins with a line here.
"""

from __future__ import annotations

#: Files and folders that know nothing else of the package.
GROUND = ("_version", "arrays", "errors")

SOLVED = ("schema", "physics", "standards", "catalogue", "rating", "reduction")
SEARCH = (
    "search", "search/model", "search/bounds", "search/engines", "search/state", "search/exact",
)  # fmt: skip
VERIFICATION = ("verification/judge", "verification/certificate")
ANALYSIS = (
    "analysis/front", "analysis/explanation", "analysis/alternatives", "analysis/comparison",
    "analysis/sweep", "analysis/simulation",
)  # fmt: skip
#: What every analysis stands on.
LINE = (*SOLVED, *SEARCH, *VERIFICATION, "infeasibility", "solving", "wording")

#: Folder (or file at the top): what it may import besides itself and `GROUND`.
FOLDERS: dict[str, tuple[str, ...]] = {
    "_version": (),
    "arrays": (),
    "errors": (),
    "standards": (),
    "physics": (),
    "schema": ("physics", "standards"),
    "wording": ("schema",),
    "catalogue": ("schema", "physics", "standards"),
    "rating": ("schema", "physics", "standards", "catalogue"),
    "reduction": ("schema", "rating"),
    "search/model": ("schema", "physics", "reduction"),
    "search/bounds": ("reduction", "search/model"),
    "search/engines": ("schema", "search/model"),
    "search/state": (
        "schema",
        "physics",
        "reduction",
        "search/model",
        "search/bounds",
        "search/engines",
    ),
    "search/exact": (
        "schema",
        "reduction",
        "search/model",
        "search/bounds",
        "search/engines",
        "search/state",
    ),
    "search": ("schema", "physics", "reduction", *SEARCH),
    "verification": (),
    "verification/judge": ("schema", "physics", "standards"),
    "verification/certificate": SOLVED,
    "infeasibility": (*SOLVED, *SEARCH),
    "solving": (*SOLVED, *SEARCH, *VERIFICATION, "infeasibility"),
    "analysis": (),
    **dict.fromkeys(ANALYSIS, LINE),
    "analysis/front": (*LINE, "analysis/comparison"),  # the words of a step
    "manufacturing": ("schema", "physics", "standards", "catalogue", "rating", "solving"),
    "reporting": ("schema", "physics", "wording", *ANALYSIS),
    "drawing": ("schema", "physics", "standards", "manufacturing", "wording"),
    "export": ("schema", "physics", "standards", "drawing", "reporting", "wording"),
    "cli": (*LINE, *ANALYSIS, "manufacturing", "reporting", "drawing", "export"),
    "__main__": ("cli",),
    "api/settings": (),
    "api/problems": (),
    "api/client": (),
    "api/store": (),
    "api/workers": ("api/store", "api/settings", "api/problems"),
    "api/contract": ("api/workers", "api/store", "api/settings", "api/problems"),
    "api/gateway": ("api/workers", "api/store", "api/settings", "api/problems"),
    "api/service": (
        "api/gateway",
        "api/contract",
        "api/workers",
        "api/store",
        "api/settings",
        "api/problems",
    ),
    "api/routes": ("api/service", "api/contract", "api/workers", "api/store", "api/problems"),
    "api/openapi": ("api/routes", "api/contract", "api/problems"),
    "api/app": (
        "api/routes",
        "api/openapi",
        "api/service",
        "api/gateway",
        "api/workers",
        "api/store",
        "api/settings",
        "api/problems",
    ),
    "api/serve": ("api/app", "api/gateway", "api/workers", "api/store", "api/settings"),
    "api/command": ("api/serve", "api/store", "api/settings"),
    "api": (),
}
