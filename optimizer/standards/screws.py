"""Socket head cap screws with coarse thread, and the clearance holes for them.

Sources: clearance holes, medium series of ISO 273 (an unnamed table quoting it); thread pitch and
head diameter of ISO 4762 (an unnamed table of a university); proof stress of property class 8.8,
580 MPa up to 16 mm, ISO 898-1:2013 (an unnamed table quoting it). Lengths: see the rows of
`data/screw_lengths.csv` and `data/thread_engagement.csv`.
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


def standard_screw(size: str) -> Screw:
    """Return the screw of a size such as "M3"; ValueError names the sizes held here.

    >>> standard_screw("M3")
    Screw(size='M3', thread_mm=3.0, pitch_mm=0.5, clearance_mm=3.4, head_mm=5.5)
    """
    try:
        return SCREWS[size]
    except KeyError:
        raise ValueError(unknown_standard_name("screw", size, SCREWS)) from None


def standard_engagement_mm(size: str, hub: str) -> float:
    """Return the least length of thread in a hub of a material, such as "c45"; ValueError for another.

    One diameter in steel, two in aluminium: common practice, no source. It holds the whole strength of
    the screw, of which the preload takes a share only.

    >>> standard_engagement_mm("M4", "c45"), standard_engagement_mm("M4", "en_aw_6082_t6")
    (4.0, 8.0)
    """
    try:
        return standard_screw(size).thread_mm * _ENGAGEMENT[hub]
    except KeyError:
        raise ValueError(unknown_standard_name("hub material", hub, _ENGAGEMENT)) from None


def standard_longest_engagement_mm(size: str) -> float:
    """Return the longest least length of thread that the table asks in a hub of any material.

    For hubs of which it has no row: common practice, no source, and no statement on their strength.

    >>> standard_longest_engagement_mm("M4")
    8.0
    """
    return standard_screw(size).thread_mm * max(_ENGAGEMENT.values())


def standard_screw_length_mm(size: str, least_mm: float) -> float | None:
    """Return the shortest listed length of a screw that is `least_mm` or more; None above the longest.

    >>> [standard_screw_length_mm("M4", least) for least in (12.0, 12.1, 41.0)]
    [12.0, 16.0, None]
    """
    shortest, longest = _LENGTHS[standard_screw(size).size]
    return next(
        (mm for mm in LENGTHS_MM if shortest <= mm <= longest and mm >= least_mm - 1e-9), None
    )


LENGTHS_MM: tuple[float, ...] = (
    3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 50.0, 55.0, 60.0,
    65.0, 70.0, 80.0, 90.0, 100.0, 110.0, 120.0,
)  # fmt: skip
"""Lengths below the head that ISO 4762 lists for the sizes held here [mm], unnamed and from memory."""
_LENGTHS = {
    row["size"]: (float(row["shortest_mm"]), float(row["longest_mm"]))
    for row in read_standard_table("screw_lengths.csv")
}
_ENGAGEMENT = {
    row["material"]: float(row["diameters"]) for row in read_standard_table("thread_engagement.csv")
}
SCREWS: dict[str, Screw] = {
    row["size"]: Screw(
        row["size"],
        *(float(row[name]) for name in ("thread_mm", "pitch_mm", "clearance_mm", "head_mm")),
    )
    for row in read_standard_table("screws.csv")
}
"""Screws by size, smallest first."""
