"""No number decides a budget unseen: each is a unit, the default of a field, or stands in a cited formula.

The syntax tree of all that makes a budget is walked. What is left over must stand in the table below, with
the formula that it belongs to and its source; a line of the table that nothing needs any more fails too.
"""

from __future__ import annotations

import ast
import importlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from pydantic import BaseModel

from ringset.schema.base import schema_assumed_range
from ringset.schema.shop import Shop
from ringset.schema.targets import Target
from tests.support.places import ROOT

FILES = (
    "physics/budget", "physics/head_averaging", "physics/pitch_spectrum", "physics/tooth_field",
    "physics/resolution", "physics/air_gap", "physics/rim_bending", "physics/curved_beam",
    "physics/interference_fit", "physics/latency", "physics/limit_rule", "physics/quantity",
    "rating/error_budget", "rating/sizes", "rating/mounting_checks", "rating/rate",
    "verification/judge/gap_and_budget",
)  # fmt: skip

#: Counting, halves and squares; powers of ten between units; degrees, percent, seconds and minutes.
TRIVIAL = {
    0, 1, 2, 0.5, 1e3, 1e-3, 1e6, 1e-6, 1e9, 2e3, 2e-3, 500.0, 100.0, 60.0, 180.0, 360.0, 3600.0,
}  # fmt: skip

#: Constants of these files that are the default of a field, or an end of what it allows.
DEFAULTS: dict[tuple[str, str], tuple[type[BaseModel], str]] = {
    ("physics/budget", "COVERAGE"): (Target, "coverage_factor"),
    ("physics/budget", "WORST_SIGMAS"): (Target, "worst_noise_sigmas"),
    ("physics/resolution", "NOISE_FREE_SIGMAS"): (Target, "noise_free_sigmas"),
    ("physics/pitch_spectrum", "WORST_PERCENT"): (Target, "worst_ring_percent"),
    ("physics/pitch_spectrum", "EXPONENT"): (Shop, "pitch_spectrum_exponent"),
    ("physics/pitch_spectrum", "UNEVEN_FACTOR"): (Shop, "uneven_pitch_factor"),
    ("physics/pitch_spectrum", "UNEVEN_EXTRA"): (Shop, "uneven_worst_extra"),
}

TIMOSHENKO = "S. Timoshenko, Strength of Materials, Part II, 1956"
RING = (
    "thin ring under equal radial forces: W. C. Young, Roark's Formulas for Stress and Strain, 1989"
)
RIM = "a guide on loaded gears, in no budget: ISO 6336-3:2006"
TOLD = "in no budget: from where on an answer warns, measured by tests/physics/test_curved_beam.py of 2026"
#: File, number: the formula that it stands in, and its source with a year; several numbers may share one.
CITED: dict[str, dict[float, str]] = {
    "physics/budget": {
        3.0: "half width / sqrt 3: JCGM 100:2008, 4.3.7; and the 3 sigma of a plain sum, which cancel out",
        4.0: "alpha dT / 4, order 1 of a ring in a linear field: worked out in tests/published/, 2026",
    },
    "physics/head_averaging": {
        4.0: "2 sin(p T / 4), a chord of half the tolerance: worked out in its docstring, 2026"
    },
    "physics/pitch_spectrum": {
        0.2: "simulated layouts of uneven heads: tests/physics/test_pitch_spectrum.py, 2026",
        0.667: "shortfall of the mean range at many orders: simulated, tests/physics/, 2026",
        9: "head counts of the simulated table: tests/physics/simulate_pitch_spectrum.py, 2026",
    },
    "physics/tooth_field": {300.0: "what a float holds, no ring: IEEE 754-2019"},
    "physics/resolution": {32: "bits of a count, a bound of an argument: ISO/IEC 9899:2018, uint32"},
    "physics/rim_bending": {
        3: f"E b t^3 / 12; W R^3 / (E I): {RING}",
        4: f"radius to the fourth in E I (k^2 - 1)^2 / R^4: {TIMOSHENKO}",
        12.0: f"E b t^3 / 12: {TIMOSHENKO}",
        1.2: RIM, 1.6: RIM, 2.242: RIM, 3.5: RIM, 1.15: RIM, 8.324: RIM,
        0.46: TOLD, 1.5: TOLD, 0.1: TOLD,
    },
    "physics/curved_beam": {1.2: f"shear of a rectangular section: {TIMOSHENKO}"},
    "physics/interference_fit": {0.8: "share of Rz that pressing flattens: DIN 7190:2001"},
    "physics/latency": {
        8.0: "samples per pitch that are recommended, in no budget: field samples_per_tooth_min, 2026",
        6.0: "degrees per second over revolutions per minute, 360 / 60: ISO 80000-3:2019",
    },
    "physics/limit_rule": {1e-9: "binary rounding, far below what can be made: IEEE 754-2019"},
    "physics/quantity": {
        648000.0: "arcsec in pi radians: ISO 80000-3:2019", 1296000.0: "in a turn: ISO 80000-3:2019",
    },
    "rating/error_budget": {
        3: "index of a column of gains, no quantity: 2026",
        4: "order 4 z of the third harmonic: C. Kuntz and others, arXiv:2205.08472, 2022",
        6: "index of a column of gains, no quantity: 2026",
    },
    "rating/sizes": {16_384: "numbers of cutters, no quantity: 2026"},
    "rating/mounting_checks": {
        20.0: "reference temperature: ISO 1:2022", 1e-9: "stands for no strength at all: 2026",
    },
    "rating/rate": {
        9: "digits to which a step of gaps is rounded: 2026",
        1e-9: "binary rounding of a quotient: IEEE 754-2019",
    },
    "verification/judge/gap_and_budget": {
        15.0: "the judge's own copy of SET_OFFSET_UM, a field's default: 2026",
        20.0: "reference temperature: ISO 1:2022",
        4.0: "order 4 z of the third harmonic: C. Kuntz and others, arXiv:2205.08472, 2022",
    },
}  # fmt: skip


def _constants(tree: ast.Module) -> Iterator[tuple[str, float]]:
    """Yield the numbers of a module, each with the name of the module's constant that it makes, else ""."""
    for statement in tree.body:
        names = [""]
        if isinstance(statement, ast.Assign):
            target = statement.targets[0]
            parts = target.elts if isinstance(target, ast.Tuple) else [target]
            names = [part.id for part in parts if isinstance(part, ast.Name)]
        for node in ast.walk(statement):
            value = node.value if isinstance(node, ast.Constant) else None
            if isinstance(value, int | float) and not isinstance(value, bool):
                yield ",".join(names), float(value)


def _unexplained(file: str, source: str) -> set[float]:
    """Return the numbers of a file that are neither trivial nor the default of a field."""
    stated = {name for place, name in DEFAULTS if place == file}
    stated |= {"EXPONENT_LEAST", "EXPONENT_MOST"}  # what the field allows, by its bounds below
    return {
        value
        for names, value in _constants(ast.parse(source))
        if value not in TRIVIAL and not (names and set(names.split(",")) <= stated)
    }


@pytest.mark.parametrize("file", FILES)
def test_every_number_is_a_unit_a_field_or_in_a_cited_formula(file: str) -> None:
    source = (ROOT / "optimizer" / f"{file}.py").read_text()
    assert _unexplained(file, source) == {float(value) for value in CITED.get(file, {})}


def test_the_walk_sees_what_it_must() -> None:
    """A number within a function, in a default of an argument, in a tuple; not one in a text."""
    text = '"""Of 0.47."""\nSHARE = 0.47\n\ndef f(x=(7, 0.48)):\n    return -0.49 * x[0] * 1e3\n'
    assert _unexplained("physics/budget", text) == {0.47, 7.0, 0.48, 0.49}


@pytest.mark.parametrize(("place", "name"), DEFAULTS)
def test_constants_that_are_defaults_are_those_of_a_field_with_a_range(
    place: str, name: str
) -> None:
    model, field = DEFAULTS[place, name]
    module = importlib.import_module("ringset." + place.replace("/", "."))
    info = model.model_fields[field]
    assert info.default == getattr(module, name)
    assert schema_assumed_range(info) is not None


def test_the_exponents_that_were_simulated_are_those_that_the_field_allows() -> None:
    schema = Shop.model_json_schema()["properties"]["pitch_spectrum_exponent"]
    from ringset.physics import pitch_spectrum

    assert schema["minimum"] == pitch_spectrum.EXPONENT_LEAST
    assert schema["maximum"] == pitch_spectrum.EXPONENT_MOST


def test_every_cited_formula_names_a_source_with_a_year() -> None:
    for file, numbers in CITED.items():
        assert (ROOT / "optimizer" / f"{file}.py").is_file()
        for value, why in numbers.items():
            years = [int(word) for word in _words(why) if word.isdigit() and len(word) == 4]
            assert any(1900 < year <= 2026 for year in years), f"{file}: {value}"


def _words(text: str) -> list[str]:
    return "".join(c if c.isalnum() else " " for c in text).split()


def test_the_walk_covers_the_physics_that_the_budget_imports() -> None:
    """What rating and judge take from physics for gap and budget is walked."""
    for caller in ("rating/error_budget", "rating/sizes", "verification/judge/gap_and_budget"):
        tree = ast.parse((ROOT / "optimizer" / f"{caller}.py").read_text())
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith(
                "ringset.physics"
            ):
                for alias in node.names:
                    module = Path((node.module or "").removeprefix("ringset.").replace(".", "/"))
                    inner = module / alias.name
                    place = inner if (ROOT / "optimizer" / f"{inner}.py").is_file() else module
                    known = (*FILES, "physics/geometry", "physics/cutter_form")
                    assert str(place) in known or str(place) == "physics", place
