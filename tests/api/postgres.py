"""A PostgreSQL server of our own from the Debian package, run as an unprivileged user."""

from __future__ import annotations

import getpass
import os
import pwd
import shutil
import subprocess
import tempfile
import uuid
from pathlib import Path

from tests.api.running import free_port


class Postgres:
    """A throw-away server in a temporary folder."""

    def __init__(self, programs: Path) -> None:
        self.programs, self.port = programs, free_port()
        self.folder = Path(tempfile.mkdtemp(prefix="ringset-pg-", dir="/tmp"))
        self.user = "postgres" if os.geteuid() == 0 else getpass.getuser()
        if os.geteuid() == 0:  # the server refuses to run as root
            owner = pwd.getpwnam("postgres")
            os.chown(self.folder, owner.pw_uid, owner.pw_gid)
        data = str(self.folder / "data")
        self._run("initdb", "-D", data, "-U", "ringset", "-A", "trust", "--no-sync", "-E", "UTF8")
        # nobody cuts its power: the services are killed, not the server
        options = (
            f"-p {self.port} -k {self.folder} -h 127.0.0.1 -c max_connections=200 -c fsync=off"
        )
        self._run(
            "pg_ctl", "-D", data, "-w", "-l", str(self.folder / "log"), "-o", options, "start"
        )

    def database(self) -> str:
        """Make a database and return its URL."""
        name = f"t{uuid.uuid4().hex}"
        self._run("createdb", "-h", "127.0.0.1", "-p", str(self.port), "-U", "ringset", name)
        return f"postgresql://ringset@127.0.0.1:{self.port}/{name}"

    def stop(self) -> None:
        """Stop it and remove its folder."""
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-m", "immediate", "stop")
        shutil.rmtree(self.folder, ignore_errors=True)

    def _run(self, program: str, *arguments: str) -> None:
        as_user = ["runuser", "-u", self.user, "--"] if os.geteuid() == 0 else []
        subprocess.run(
            [*as_user, str(self.programs / program), *arguments],
            cwd=self.folder, check=True, capture_output=True, timeout=60,
        )  # fmt: skip


def programs() -> Path | None:
    """Return where the server's programs are, newest version first; None if they are not installed."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda p: int(p.parts[-3]))
    if found:
        return found[-1].parent
    initdb = shutil.which("initdb")
    return None if initdb is None else Path(initdb).parent
