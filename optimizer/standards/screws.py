"""Socket head cap screws with coarse thread, and the clearance holes for them.

Sources: clearance holes, medium series of ISO 273 (a public table quoting it); thread pitch and
head diameter of ISO 4762 (a public table of a university); proof stress of property class 8.8,
580 MPa up to 16 mm, ISO 898-1:2013 (a public table quoting it).
"""

from dataclasses import dataclass

from ringset.standards._numeric import unknown_standard_name
from ringset.standards._tables import read_standard_table

PROOF_STRESS_88_MPA = 580.0
"""Proof stress of property class 8.8 for threads up to 16 mm [MPa], ISO 898-1:2013."""


@dataclass(frozen=True)
class Screw:
    """A screw size: thread diameter, pitch, medium clearance hole and head diameter, all in mm."""

    size: str
    thread_mm: float
    pitch_mm: float
    clearance_mm: float
    head_mm: float


def screw(size: str) -> Screw:
    """Return the screw of a size such as "M3"; ValueError names the sizes held here.

    >>> screw("M3")
    Screw(size='M3', thread_mm=3.0, pitch_mm=0.5, clearance_mm=3.4, head_mm=5.5)
    """
    try:
        return SCREWS[size]
    except KeyError:
        raise ValueError(unknown_standard_name("screw", size, SCREWS)) from None


SCREWS: dict[str, Screw] = {
    row["size"]: Screw(
        row["size"],
        *(float(row[name]) for name in ("thread_mm", "pitch_mm", "clearance_mm", "head_mm")),
    )
    for row in read_standard_table("screws.csv")
}
"""Screws by size, smallest first."""
