"""The house: who may import whom, where libraries stand, how long a file may be, what the top level holds.

Every import is read, wherever it stands: also those inside functions and under `TYPE_CHECKING`.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

import ringset
from tests.repo.folders import FOLDERS, GROUND
from tests.support.places import ROOT

PRODUCT = sorted(
    file
    for top in ("optimizer", "api")
    for file in (ROOT / top).rglob("*.py")
    if not file.is_relative_to(ROOT / "optimizer" / "api")
)
TESTS = sorted((ROOT / "tests").rglob("*.py"))


def name_of(file: Path) -> str:
    """Return the dotted name under which a file of the checkout is imported."""
    parts = file.relative_to(ROOT).with_suffix("").parts
    if parts[0] == "optimizer":
        parts = ("ringset", *parts[1:])
    elif parts[0] == "api":
        parts = ("ringset", *parts)
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {name_of(file): file for file in PRODUCT}


def folder_of(module: str) -> str:
    """Return the folder a module lies in; for a file beside the folders or in the table the file itself."""
    parts = MODULES[module].relative_to(ROOT).with_suffix("").parts
    if parts[0] == "optimizer":
        parts = parts[1:]
    if parts[-1] == "__init__":
        return "/".join(parts[:-1])
    alone = parts[:-1] in ((), ("api",)) or "/".join(parts) in FOLDERS
    return "/".join(parts if alone else parts[:-1])


@cache
def imports(file: Path, *, at_top: bool = False) -> frozenset[str]:
    """Return every name a file imports, dotted; with `at_top` only what its own import loads."""
    tree = ast.parse(file.read_text())
    nodes = tree.body if at_top else ast.walk(tree)
    return imports_of(nodes, name_of(file), is_package=file.name == "__init__.py")


def imports_of(nodes: object, module: str, *, is_package: bool) -> frozenset[str]:
    found: set[str] = set()
    for node in nodes:  # type: ignore[attr-defined]
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            source = node.module or ""
            if node.level:
                depth = node.level - (1 if is_package else 0)
                package = module.split(".")[: len(module.split(".")) - depth]
                source = ".".join([*package, *([source] if source else [])])
            found |= {f"{source}.{alias.name}" for alias in node.names}
    return frozenset(found)


def matching(names: frozenset[str], *packages: str) -> set[str]:
    """Return the names that lie in one of the packages."""
    return {n for n in names if any(n == p or n.startswith(f"{p}.") for p in packages)}


def imported_modules(module: str) -> set[str]:
    """Return the modules of the product that a module imports."""
    found = set()
    for name in matching(imports(MODULES[module]), "ringset"):
        near = name if name in MODULES else name.rpartition(".")[0]
        found |= {near} & set(MODULES)
    return found - {module, "ringset"}


def test_imports_are_read_wherever_they_stand() -> None:
    text = (
        "import numpy as np, ortools.sat\n"
        "from scipy import optimize\n"
        "def f():\n    from ringset.physics import rim\n"
        "if TYPE_CHECKING:\n    from .study import Study\n    from . import rate\n"
    )
    nodes = list(ast.walk(ast.parse(text)))
    assert imports_of(nodes, "ringset.judge", is_package=False) == {
        "numpy", "ortools.sat", "scipy.optimize", "ringset.physics.rim",
        "ringset.study.Study", "ringset.rate",
    }  # fmt: skip
    nodes = list(ast.walk(ast.parse("from .study import X")))
    assert imports_of(nodes, "ringset", is_package=True) == {"ringset.study.X"}
    names = frozenset({"scipy", "scipy.optimize", "scipyx"})
    assert matching(names, "scipy") == {"scipy", "scipy.optimize"}


def test_every_folder_stands_in_the_table_and_says_what_it_is() -> None:
    here = {folder_of(module) for module in MODULES if module != "ringset"}
    assert here == set(FOLDERS)
    for module, file in MODULES.items():
        assert ast.get_docstring(ast.parse(file.read_text())), module


def test_the_table_itself_runs_one_way() -> None:
    done: set[str] = set()
    left = dict(FOLDERS)
    while left:
        ready = {folder for folder, may in left.items() if set(may) - {folder} <= done}
        assert ready, f"a circle among {sorted(left)}"
        done |= ready
        left = {folder: may for folder, may in left.items() if folder not in ready}


@pytest.mark.parametrize("folder", sorted(FOLDERS))
def test_a_folder_imports_only_what_the_table_allows(folder: str) -> None:
    allowed = {folder, *FOLDERS[folder], *(GROUND if folder not in GROUND else ())}
    for module in MODULES:
        if module != "ringset" and folder_of(module) == folder:
            for other in imported_modules(module):
                assert folder_of(other) in allowed, f"{module} imports {other}"


def test_no_modules_import_each_other_in_a_circle() -> None:
    left = {module: imported_modules(module) for module in MODULES}
    while left:
        free = {module for module, needs in left.items() if not needs & set(left)}
        assert free, f"a circle among {sorted(left)}"
        left = {module: needs for module, needs in left.items() if module not in free}


def test_nothing_is_imported_by_the_bare_name_of_a_folder() -> None:
    """A user's own optimizer.py or api.py would take its place."""
    for file in PRODUCT + TESTS:
        names = imports(file)
        assert not matching(names, "optimizer", "api"), file
        assert file in TESTS or not matching(names, "tests"), file


@pytest.mark.parametrize("folder", ["physics", "standards"])
def test_physics_and_standards_use_numbers_only(folder: str) -> None:
    for module in MODULES:
        if folder_of(module) == folder:
            names = imports(MODULES[module])
            assert not matching(names, "ortools", "scipy", "pydantic", "pandas"), module


def test_only_the_engines_and_the_linear_program_know_a_solver() -> None:
    """Nothing else of the search, so that one place sets every engine's limits and settings."""
    knowing = {
        m for m, file in MODULES.items() if matching(imports(file), "ortools", "scipy.optimize")
    }
    linear = "ringset.search.bounds.linear_program"
    assert {folder_of(module) for module in knowing - {linear}} == {"search/engines"}
    assert not matching(imports(MODULES[linear]), "ortools.sat", "scipy.optimize")


def test_the_rest_of_scipy_is_for_sparse_matrices_of_the_search() -> None:
    for module, file in MODULES.items():
        names = matching(imports(file), "scipy")
        rest = names - matching(frozenset(names), "scipy.optimize")
        if rest:
            assert folder_of(module).startswith("search"), module
            assert rest == matching(frozenset(rest), "scipy.sparse"), module


def test_of_rings_the_search_knows_only_the_rule_by_which_a_limit_counts_as_met() -> None:
    for module, file in MODULES.items():
        if module.startswith("ringset.search"):
            names = imports(file)
            assert not matching(names, "ringset.rating", "ringset.catalogue"), module
            physics = matching(names, "ringset.physics")
            assert physics == matching(frozenset(physics), "ringset.physics.limit_rule"), module


def test_the_table_of_the_search_sees_ratings_in_one_file() -> None:
    for module in MODULES:
        if folder_of(module) == "reduction" and module != "ringset.reduction.from_ratings":
            assert not matching(imports(MODULES[module]), "ringset.rating"), module


def reached_from(start: str) -> set[str]:
    """Return every module that a module imports, followed through all of them."""
    reached: set[str] = set()
    todo = [start]
    while todo:
        module = todo.pop()
        if module not in reached:
            reached.add(module)
            todo += imported_modules(module)
    return reached


@pytest.mark.parametrize(
    "start",
    [
        "ringset.verification.judge.judge",
        "ringset.analysis.comparison.compare",
        "ringset.reporting.comparison_text",
    ],
)
def test_what_judge_and_comparison_use_does_not_reach_the_stages(start: str) -> None:
    stages = ("catalogue", "rating", "reduction", "search", "solving", "manufacturing")
    reached = reached_from(start)
    assert not {m for m in reached if folder_of(m).split("/")[0] in stages}
    for module in reached:
        assert not matching(imports(MODULES[module]), "ortools", "scipy"), module


def test_drawing_and_file_libraries_are_loaded_only_where_one_is_drawn() -> None:
    libraries = ("reportlab", "ezdxf", "openpyxl", "OCP", "matplotlib")
    for module, file in MODULES.items():
        assert not matching(imports(file, at_top=True), *libraries), module
        if matching(imports(file), *libraries[:4]):
            assert folder_of(module) in ("drawing", "export"), module


def test_the_api_knows_only_what_the_optimizer_exports() -> None:
    allowed = {"ringset", "ringset.__version__", *(f"ringset.{name}" for name in ringset.__all__)}
    for module, file in MODULES.items():
        if module.startswith("ringset.api"):
            names = matching(imports(file), "ringset") - matching(imports(file), "ringset.api")
            more = allowed | {f"ringset.errors.{name}" for name in ("Refused", "ANSWERED")}
            assert names <= (more if module == "ringset.api.command" else allowed), module


def test_types_and_homes_of_the_public_names_agree() -> None:
    tree = ast.parse((ROOT / "optimizer" / "__init__.pyi").read_text())
    typed = {
        alias.asname: f"{node.module}:{alias.name}"
        for node in tree.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    del typed["__version__"]
    assert typed == {name: f"ringset.{home}" for name, home in vars(ringset)["_HOMES"].items()}


@pytest.mark.cases(fast=1)
@pytest.mark.parametrize("first", ["", "import ringset.solving.pipeline, ringset.analysis"])
def test_the_exported_functions_can_be_called(first: str, tmp_path: Path) -> None:
    """In a fresh process: importing a module of the same name must not hide the function."""
    program = (
        f"{first}\n"
        "import ringset\n"
        "from ringset import judge_answer, load_study, solve\n"
        "assert all(map(callable, (judge_answer, load_study, solve)))\n"
        "assert all(callable(getattr(ringset, name)) for name in ringset.__all__)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", program], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr


@pytest.mark.slow
def test_a_users_own_files_do_not_take_the_place_of_ours(tmp_path: Path) -> None:
    for name in ("api.py", "optimizer.py"):
        (tmp_path / name).write_text("raise SystemExit('the wrong file was loaded')\n")
    program = "import ringset, ringset.api.app; ringset.solve; print(ringset.__version__)"
    run = subprocess.run(
        [sys.executable, "-c", program], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert (run.returncode, run.stdout.strip()) == (0, ringset.__version__), run.stderr


@pytest.mark.parametrize("file", PRODUCT + TESTS, ids=lambda f: str(f.relative_to(ROOT)))
def test_no_file_is_longer_than_400_lines(file: Path) -> None:
    assert len(file.read_text().splitlines()) <= 400


def test_the_top_level_of_the_checkout_is_what_it_should_be() -> None:
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode != 0:
        pytest.skip("not a git checkout")
    top = {path.split("/")[0] for path in listed.stdout.split("\0") if path}
    assert {name for name in top if not name.startswith(".")} == {
        "README.md", "DEVELOPERS.md", "pyproject.toml", "optimizer", "api", "tests", "scenarios",
    }  # fmt: skip
