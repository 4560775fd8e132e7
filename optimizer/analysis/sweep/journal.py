"""The journal of a sweep: what is solved, one line of JSON per study, written as it is solved.

Every line reaches the disk before the next study counts as solved, so a kill, a crash or a power cut
costs at most the studies then being solved. A line cut short at the end is dropped; the sweep goes on
behind the last whole one. Studies are told apart by their fingerprint: a journal may serve any sweep.
"""

from __future__ import annotations

import fcntl
import json
import os
from pathlib import Path
from types import TracebackType
from typing import Any

#: Version of the format below.
JOURNAL_VERSION = 1


class JournalError(ValueError):
    """A journal that cannot be used; worded for people."""


class Journal:
    """Lines by fingerprint; a context manager that keeps other sweeps off the file while open.

    The first line names the versions that decide an answer's bytes: lines of other versions are
    refused, not mixed in.
    """

    def __init__(self, path: Path, versions: dict[str, str]) -> None:
        self.path = path
        self.lines: dict[str, dict[str, Any]] = {}
        self._head = {"journal": JOURNAL_VERSION, "versions": versions}
        self._file = -1

    def __enter__(self) -> Journal:
        try:
            self._file = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o666)
        except OSError as error:
            raise JournalError(
                f"{self.path}: given a place that cannot be written ({error.strerror})"
            ) from None
        try:
            self._read()
        except BaseException:
            os.close(self._file)
            raise
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if not self.lines:
            self.path.unlink(missing_ok=True)  # nothing to go on with
        os.close(self._file)

    def add(self, fingerprint: str, line: dict[str, Any]) -> None:
        """Keep the line of a study; it is on the disk when this returns."""
        self._append({"study": fingerprint, **line})
        self.lines[fingerprint] = line

    def _append(self, piece: dict[str, Any]) -> None:
        text = _bytes_of(piece)
        try:
            while text:
                text = text[os.write(self._file, text) :]
            os.fsync(self._file)
        except OSError as error:
            raise JournalError(f"{self.path}: cannot be written ({error.strerror})") from None

    def _read(self) -> None:
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            allowed = "a table that no other sweep is writing"
            raise JournalError(f"{self.path}: given a journal in use; allowed: {allowed}") from None
        *pieces, torn = self.path.read_bytes().split(b"\n")
        if not pieces and not _bytes_of(self._head).startswith(torn):
            raise self._strange(1)
        good = 0
        for number, piece in enumerate(pieces, 1):
            try:
                self._take(number, json.loads(piece))
            except (ValueError, TypeError, KeyError, AttributeError) as error:
                if isinstance(error, JournalError):
                    raise
                if number == len(pieces) > 1:
                    break  # a crash can leave the end of a file unwritten
                raise self._strange(number) from None
            good += len(piece) + 1
        os.ftruncate(self._file, good)
        if not pieces:
            self._append(self._head)

    def _strange(self, number: int) -> JournalError:
        allowed = "the journal of a sweep; move it away to solve every study anew"
        return JournalError(
            f"{self.path}: given a line {number} no sweep wrote; allowed: {allowed}"
        )

    def _take(self, number: int, piece: dict[str, Any]) -> None:
        if number > 1:
            self.lines[piece.pop("study")] = piece
        elif piece["journal"] != JOURNAL_VERSION or piece["versions"] != self._head["versions"]:
            allowed = "that of the versions here; move it away to solve anew"
            given = ", ".join(f"{k} {v}" for k, v in piece["versions"].items())
            raise JournalError(
                f"{self.path}: given a journal of {given} (format {piece['journal']}); allowed: {allowed}"
            )


def _bytes_of(piece: dict[str, Any]) -> bytes:
    return (json.dumps(piece, ensure_ascii=False, allow_nan=False) + "\n").encode()
