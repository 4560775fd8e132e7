"""Standard gear modules, as named series.

Sources: ISO 54:1996 Table 1 (two unnamed transcriptions agree); DIN 780 as listed in an
encyclopedia article; JIS B 1701-2 below 1 mm: the values stand in one unnamed list, that the
list is the one of JIS B 1701-2 is from memory. Each row of `data/modules.csv` says which.

ISO 54 has no module below 1 mm. Below 1 mm the standards differ: 0.25, 0.7 and 0.9 are first
choice in DIN 780 and second choice in JIS B 1701-2. So a module list always names its standard.
"""

from functools import cache

from ringset.standards._numeric import unknown_standard_name
from ringset.standards._tables import read_standard_table

_STANDARDS = {
    "iso54": ("ISO 54:1996", "ISO 54:1996 {}"),
    "din780": ("DIN 780", "DIN 780 {}"),
    # Only this part of the Japanese list is held; from 1 mm up it is not.
    "jis1701": ("JIS B 1701-2", "JIS B 1701-2 {}, its part below 1 mm only"),
}
_EXTENTS = {"i": ("series I", ("I",)), "i_ii": ("series I and II", ("I", "II"))}

SERIES: tuple[str, ...] = tuple(f"{key}_{extent}" for key in _STANDARDS for extent in _EXTENTS)
"""Names of the module series, each a standard and its preferred (i) or whole (i_ii) list."""


def standard_series_modules(name: str) -> tuple[float, ...]:
    """Return the modules of a series, ascending.

    Parameters
    ----------
    name : str
        One of `SERIES`.

    Returns
    -------
    tuple of float
        Modules [mm]. "iso54_i_ii" holds 6.5, which the standard says to avoid; see
        `standard_module_notes`.

    Raises
    ------
    ValueError
        If the name is not one of `SERIES`.

    Examples
    --------
    >>> standard_series_modules("iso54_i")[:6]
    (1.0, 1.25, 1.5, 2.0, 2.5, 3.0)
    """
    return tuple(module for module, _ in _members(name))


def standard_module_notes(name: str) -> dict[float, str]:
    """Return the remarks a standard makes on members of a series, by module [mm].

    ISO 54:1996 series II says of 6.5 that it is to be avoided. Raises ValueError as
    `standard_series_modules` does.
    """
    return {module: note for module, note in _members(name) if note}


def standard_series_title(name: str) -> str:
    """Return the name of a series as people write it, such as "DIN 780 series I".

    Raises ValueError as `standard_series_modules` does.
    """
    _check(name)
    key, extent = name.split("_", 1)
    return _STANDARDS[key][1].format(_EXTENTS[extent][0])


def _check(name: str) -> None:
    if name not in SERIES:
        raise ValueError(unknown_standard_name("module series", name, SERIES))


@cache
def _members(name: str) -> tuple[tuple[float, str], ...]:
    """Return (module, note) of a series, ascending."""
    _check(name)
    key, extent = name.split("_", 1)
    standard, series = _STANDARDS[key][0], _EXTENTS[extent][1]
    rows = read_standard_table("modules.csv")
    return tuple(
        sorted(
            (float(row["module_mm"]), row["note"])
            for row in rows
            if row["standard"] == standard and row["series"] in series
        )
    )
