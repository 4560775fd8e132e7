"""The one table of folders: in the order in which data flows, and which folders each may import.

A folder may import from itself and from those named; `GROUND` may be imported everywhere. The tests of the
architecture are made from this table, so a new folder begins with a line here.
"""

from __future__ import annotations

#: Files and folders that know nothing else of the package.
GROUND = ("_version", "arrays", "errors")

SOLVED = ("schema", "physics", "standards", "catalogue", "rating", "reduction")
SEARCH = (
    "search", "search/tuning", "search/model", "search/bounds", "search/engines", "search/state",
    "search/exact",
)  # fmt: skip
VERIFICATION = ("verification/judge", "verification/certificate", "verification/open_proofs")
ANALYSIS = (
    "analysis/front", "analysis/explanation", "analysis/alternatives", "analysis/comparison",
    "analysis/sweep", "analysis/simulation", "analysis/next_steps", "analysis/assumptions",
    "analysis/losses",
)  # fmt: skip
#: What every analysis stands on.
LINE = (*SOLVED, *SEARCH, *VERIFICATION, "infeasibility", "solving", "wording")

#: Of the service: what it is set to, and how it says no.
CONFIGURED = ("api/settings", "api/problems")

#: Folder (or file at the top): what it may import besides itself and `GROUND`.
FOLDERS: dict[str, tuple[str, ...]] = {
    "_version": (),
    "arrays": (),
    "errors": (),
    "standards": (),
    "physics": (),
    "schema": ("physics", "standards"),
    "wording": ("schema", "physics"),
    "catalogue": ("schema", "physics", "standards"),
    "rating": ("schema", "physics", "standards", "catalogue"),
    "reduction": ("schema", "rating"),
    "search/tuning": (),
    "search/model": ("schema", "physics", "reduction", "search/tuning"),
    "search/bounds": ("reduction", "search/tuning", "search/model"),
    "search/engines": ("schema", "reduction", "search/model"),
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
        "search/tuning",
        "search/model",
        "search/bounds",
        "search/engines",
        "search/state",
    ),
    "search": ("schema", "physics", "reduction", *SEARCH),
    "verification": (),
    "verification/judge": ("schema", "physics", "standards"),
    "verification/certificate": SOLVED,
    "verification/open_proofs": (*SOLVED, "verification/certificate"),
    "infeasibility": (*SOLVED, *SEARCH),
    "solving": (*SOLVED, *SEARCH, *VERIFICATION, "infeasibility"),
    "analysis": (),
    **dict.fromkeys(ANALYSIS, LINE),
    "analysis/front": (*LINE, "analysis/comparison"),  # the words of a step
    "manufacturing": ("schema", "physics", "standards", "catalogue", "rating", "solving"),
    "analysis/losses": (*LINE, "manufacturing"),  # from what stock rings are turned
    "reporting": ("schema", "physics", "wording", *ANALYSIS),
    "drawing": ("schema", "physics", "standards", "manufacturing", "wording"),
    "export": (
        "schema",
        "physics",
        "standards",
        "analysis/alternatives",  # the advice of the report
        "drawing",
        "reporting",
        "wording",
    ),
    "cli": (*LINE, *ANALYSIS, "manufacturing", "reporting", "drawing", "export"),
    "__main__": ("cli",),
    "api/settings": (),
    "api/problems": (),
    "api/client": (),
    "api/store": (),
    "api/contract": (*CONFIGURED, "api/store"),
    "api/workers": (*CONFIGURED, "api/store", "api/contract"),
    "api/service": (*CONFIGURED, "api/store", "api/contract", "api/workers"),
    "api/gateway": (*CONFIGURED, "api/store", "api/contract", "api/workers"),
    "api/routes": ("api/problems", "api/store", "api/contract", "api/service"),
    "api/openapi": ("api/problems", "api/contract", "api/routes"),
    "api/app": (
        *CONFIGURED,
        "api/store",
        "api/workers",
        "api/service",
        "api/gateway",
        "api/routes",
        "api/openapi",
    ),
    "api/serve": ("api/settings", "api/store", "api/workers", "api/gateway", "api/app"),
    "api/command": ("api/settings", "api/store", "api/serve"),
    "api": (),
}
