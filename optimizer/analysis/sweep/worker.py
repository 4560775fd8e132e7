"""What a worker of a sweep does: one study in, its line of the table out. Imports nothing heavy before.

The same function serves the processes of this machine and a cluster, so the lines are the same.
"""

from __future__ import annotations

import threading
from typing import Any

from ringset._version import versions as versions_here
from ringset.errors import StudyError
from ringset.schema.loading import load_study

#: The search's quiet spells move standard output of the whole process: one study at a time.
_ONE_STUDY = threading.Lock()


class OtherVersions(RuntimeError):
    """A worker of a cluster has other versions than the sweep: its answers might differ."""


def solve_sweep_line(text: str) -> dict[str, Any]:
    """Return what the table tells of the study in `text`; a fault becomes the line's reason.

    Keys: status (proven, agreed, found, impossible, undecided, invalid, failed), reasons (list of text),
    repeatable, cutters, ring_parts, heads, material_kg, tool_points_um and tool_point_repeatabilities_um
    (by robot), largest_error_arcsec, largest_error_joint, largest_repeatability_arcsec. Raises MemoryError
    only: that is the machine's fault, not the study's.
    """
    from ringset.solving.pipeline import solve

    with _ONE_STUDY:
        try:
            answer = solve(load_study(text))
        except StudyError as error:
            return sweep_line_plain("invalid", str(error).splitlines())
        except MemoryError:
            raise
        except Exception as error:  # a defect of ours: the other studies go on
            return sweep_line_plain("failed", [f"{type(error).__name__}: {error}"])
    line = sweep_line_plain(answer.status, answer.reasons, answer.proof.repeatable)
    if answer.totals is not None:
        totals = answer.totals
        worst = max(answer.rings, key=lambda ring: ring.error_arcsec)
        line |= {
            "cutters": totals.cutters,
            "ring_parts": totals.ring_parts,
            "heads": totals.heads,
            "material_kg": totals.material_kg,
            # none where no joint of the robot counts at the tool point
            "tool_points_um": {p.robot: p.error_um for p in answer.tool_points if p.error_um > 0.0},
            "tool_point_repeatabilities_um": {
                p.robot: p.repeatability_um for p in answer.tool_points if p.error_um > 0.0
            },
            "largest_error_arcsec": worst.error_arcsec,
            "largest_error_joint": worst.label,
            "largest_repeatability_arcsec": max(r.repeatability_arcsec for r in answer.rings),
        }
    return line


def sweep_line_plain(
    status: str, reasons: list[str], repeatable: bool | None = None
) -> dict[str, Any]:
    """Return the line of a study before anything of its answer is added."""
    return {"status": status, "reasons": reasons, "repeatable": repeatable}


def solve_sweep_on_cluster(text: str, versions: dict[str, str]) -> dict[str, Any]:
    """Return `solve_sweep_line` on a worker of a cluster; raises OtherVersions unless it has `versions`."""
    if versions_here() != versions:
        raise OtherVersions(
            f"a worker has {sweep_versions_text(versions_here())}, the sweep {sweep_versions_text(versions)}"
        )
    return solve_sweep_line(text)


def sweep_versions_text(versions: dict[str, str]) -> str:
    """Return versions as text."""
    return ", ".join(f"{name} {version}" for name, version in versions.items())
