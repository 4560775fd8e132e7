"""Seconds for the files of a six-joint robot, as a whole process, and of 100 ring parts.

Run on demand: python -m tests.bench.bench_sheets. The 100 parts have 20 to 416 teeth of module 1 on 100
joints of 17 robots (not judged); each kind of file is timed by itself, shared by the cores there are.
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from ringset.drawing.shop_words import sheet_extras
from ringset.export.folder import KINDS, export_jobs, write_export_folder
from ringset.schema.answer import Answer
from ringset.schema.loading import load_study
from ringset.schema.study import Study
from ringset.search.engines.quiet_stdout import quiet_stdout
from ringset.solving.pipeline import solve
from tests.support.places import SCENARIOS

SCENARIO = SCENARIOS / "six_joint_arm.json"
PAPER = [kind for kind in KINDS if kind != "step"]
PARTS = 100


def six_joints(study: Study, answer: Answer, place: Path) -> None:
    """Print the seconds of whole processes: all but solids, then all."""
    file = place / "answer.json"
    file.write_text(answer.to_json())
    for name, kinds in (("six joints, without solids", PAPER), ("six joints, all", list(KINDS))):
        started = time.perf_counter()
        subprocess.run(
            [sys.executable, "-m", "ringset", "sheet", str(SCENARIO), str(file),
             "--out", str(place / name), "--only", *kinds],
            check=True, stdout=subprocess.DEVNULL,
        )  # fmt: skip
        print(f"{name:32s} {time.perf_counter() - started:7.2f} s")


def family(study: Study, answer: Answer) -> tuple[Study, Answer]:
    """Return a study of 17 robots and an answer with another ring part on every joint."""
    data = json.loads(SCENARIO.read_text())
    data["robots"] = [dict(data["robots"][0], name=f"arm {i}") for i in range(-(-PARTS // 6))]
    many = load_study(json.dumps(data).encode())
    rings, parts = [], []
    names = [(robot.name, joint.name) for robot in many.robots for joint in robot.joints]
    for index, (robot, joint) in enumerate(names):
        teeth = 20 + 4 * min(index, PARTS - 1)
        identity = f"R{min(index, PARTS - 1) + 1}"
        sizes = {
            "module_mm": 1.0, "teeth": teeth, "bore_mm": teeth - 9.0, "rim_mm": 3.25,
            "tip_diameter_mm": teeth + 2.0,
        }  # fmt: skip
        more = {
            "pitch_diameter_mm": float(teeth), "root_diameter_mm": teeth - 2.5,
            "ring_part": identity, "robot": robot, "joint": joint,
        }  # fmt: skip
        rings.append(answer.rings[index % 6].model_copy(update=sizes | more))
        if index < PARTS:
            part = answer.ring_parts[0].model_copy(update=sizes | {"id": identity})
            parts.append(part)
    points = [answer.tool_points[0].model_copy(update={"robot": r.name}) for r in many.robots]
    changes = {"rings": rings, "ring_parts": parts, "tool_points": points}
    return many, answer.model_copy(update=changes)


def main() -> None:
    """Print the table."""
    study = load_study(SCENARIO.read_bytes())
    answer = solve(study)
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        six_joints(study, answer, place)
        many, whole = family(study, answer)
        total = 0.0
        for kind in KINDS:
            started = time.perf_counter()
            with quiet_stdout():
                words = sheet_extras(many, whole)
                files = write_export_folder(
                    export_jobs(many, whole, [kind], extras=words), place / "family"
                )
            seconds = time.perf_counter() - started
            total += seconds
            size = sum((place / "family" / name).stat().st_size for name in files) / 1e6
            print(
                f"{PARTS} parts, {kind:20s} {seconds:7.2f} s  {len(files):4d} files {size:8.1f} MB"
            )
        print(f"{PARTS} parts, all {total:22.2f} s")


if __name__ == "__main__":
    main()
