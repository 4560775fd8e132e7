"""No body and no call, however odd, is answered by a 5xx or by something the document does not tell."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

from hypothesis import HealthCheck, given, settings

from tests.api.bodies import cases, send
from tests.api.running import Running
from tests.api.test_openapi import OPERATIONS

CASES = 120  # tests/bench/bench_service.py sends 5,000


@settings(
    max_examples=CASES, deadline=None, derandomize=True, database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.differing_executors,
                           HealthCheck.too_slow, HealthCheck.data_too_large],
)  # fmt: skip
@given(case=cases)
def test_any_body_is_answered_soundly(shared: Running, case: tuple[str, bytes]) -> None:
    send(shared.http, *case)


def test_schemathesis_finds_nothing(
    start: Callable[..., Running], sqlite_url: str, tmp_path: Path
) -> None:
    """Without the phase of boundary values, which takes minutes since lengths may be texts as well."""
    service = start(sqlite_url, None)
    program = Path(sys.executable).parent / "schemathesis"
    run = subprocess.run(
        [
            str(program), "--config-file", str(Path(__file__).with_name("schemathesis.toml")),
            "run", f"{service.url}/v1/openapi.json", "--checks", "all", "--max-examples", "2",
            "--phases", "examples,fuzzing", "--no-color",
        ],
        cwd=tmp_path, capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stdout[-6000:] + run.stderr[-2000:]
    assert f"Tested: {len(OPERATIONS)}" in run.stdout
    assert '"status": 500' not in service.log.read_text()
