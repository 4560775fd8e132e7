"""Reading studies and answers, writing files whole, and refusing what cannot be done."""

from __future__ import annotations

import contextlib
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from ringset.errors import Refused

if TYPE_CHECKING:
    from ringset.schema.answer import Answer
    from ringset.schema.study import Study
    from ringset.verification.certificate.document import Certificate, CertifiedAnswer


def read_study(path: str) -> Study:
    """Return the study of a file; - is standard input."""
    text = read_input_file(path)
    from ringset.errors import StudyError
    from ringset.schema.loading import load_study

    try:
        return load_study(text)
    except StudyError as error:
        raise Refused(str(error)) from None


def read_answer(path: str) -> Answer:
    """Return the answer of a file, also of one that holds its certificate too; - is standard input."""
    text = read_input_file(path)
    from ringset.errors import StudyError
    from ringset.schema.loading import load_answer

    both = _certified(text)
    try:
        return load_answer(text) if both is None else both.answer
    except StudyError as error:
        raise Refused(f"{path} is not an answer:\n{_of('answer', error)}") from None


def read_previous(path: str) -> Answer:
    """Return the answer of a file whose names of ring parts can be kept; - is standard input."""
    previous = read_answer(path)
    from ringset.schema.earlier_names import earlier_name_faults

    if faults := earlier_name_faults(previous, "--previous"):
        raise Refused(f"{path}: its names cannot be kept:\n" + "\n".join(map(str, faults)))
    return previous


def read_certificate_file(path: str) -> Certificate:
    """Return the certificate of a file, also of one that holds its answer too; - is standard input."""
    text = read_input_file(path)
    both = _certified(text)
    if both is not None and both.certificate is not None:
        return both.certificate
    from ringset.errors import StudyError
    from ringset.schema.loading import load_model
    from ringset.verification.certificate.document import Certificate

    try:
        return load_model(Certificate, text)
    except StudyError as error:
        raise Refused(f"{path} is not a certificate:\n{_of('certificate', error)}") from None


def _certified(text: bytes) -> CertifiedAnswer | None:
    """Return answer and certificate where a text holds both, as the service gives them; else None."""
    from ringset.errors import StudyError
    from ringset.schema.loading import load_model
    from ringset.verification.certificate.document import CertifiedAnswer

    try:
        return load_model(CertifiedAnswer, text) if b'"certificate"' in text else None
    except StudyError:
        return None


def _of(what: str, error: Exception) -> str:
    """Return the faults of a file that is no study in its own name."""
    lines = str(error).splitlines()
    return "\n".join(what + line[5:] if line.startswith("study: ") else line for line in lines)


def read_input_file(path: str) -> bytes:
    """Return what a file holds; - is standard input."""
    try:
        return sys.stdin.buffer.read() if path == "-" else Path(path).read_bytes()
    except OSError as error:
        raise Refused(f"{path}: given a file that cannot be read ({error.strerror})") from None


def folder_to_write(given: str) -> Path:
    """Return the folder that --out names; it need not be there, its parent must."""
    out = Path(given)
    if not given.strip() or not out.resolve().parent.is_dir():
        raise Refused(
            f"--out: given {given or 'nothing'}; allowed: a folder in a place that exists"
        )
    return out


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file whole or not at all, text as UTF-8; devices and pipes are written to, links followed."""
    if isinstance(content, str):
        content = content.encode()
    path = path.resolve() if path.is_symlink() else path
    if path.exists() and not path.is_file() and not path.is_dir():
        try:
            path.write_bytes(content)
        except OSError as error:
            raise _cannot_write(path, error) from None
        return
    draft = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        draft.write_bytes(content)
        draft.replace(path)
    except OSError as error:
        with contextlib.suppress(OSError):
            draft.unlink(missing_ok=True)
        raise _cannot_write(path, error) from None


def refuse_folder_that_is_there(option: str, given: str | None) -> None:
    """Refuse a name of a new directory that is none, or that exists."""
    if given in ("-", ""):
        raise Refused(f"{option}: given {given!r}; allowed: a name")
    if given and Path(given).exists():
        raise Refused(f"{option}: given {given}, which exists; allowed: a new directory")


def write_new_folder(place: Path, texts: dict[str, str]) -> None:
    """Write texts as files by their names into a new directory, all or nothing."""
    from ringset.export.folder import Job, Withheld, write_export_folder

    def write(folder: Path) -> None:
        for name, text in texts.items():
            (folder / name).write_text(text, encoding="utf-8")

    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        write_export_folder([Job(tuple(texts), write)], place)
    except Withheld as withheld:
        raise Refused(str(withheld)) from None
    except OSError as error:
        raise Refused(f"{place}: given a place that cannot be written ({error.strerror})") from None


def _cannot_write(path: Path, error: OSError) -> Refused:
    return Refused(f"{path}: given a place that cannot be written ({error.strerror})")


def refuse_option_clashes(**files: str | None) -> None:
    """Refuse two options that name one file: the second would overwrite the first."""
    seen: dict[Path, str] = {}
    for option, name in files.items():
        if name is None or name == "-":
            continue
        path = Path(name).resolve()
        if path in seen and not (path.exists() and not path.is_file()):
            name = option if option.isupper() else f"--{option}"
            raise Refused(f"{name}: given the same file as {seen[path]}; allowed: another file")
        seen[path] = option


def refuse_file_ending(option: str, name: str | None, ending: str) -> None:
    """Refuse a name that promises another kind of file than is written."""
    given = Path(name or "").suffix
    if given and given.lower() != ending:
        raise Refused(f"{option}: given {name}; allowed: a name that ends with {ending}")


def refuse_plot_without_matplotlib() -> None:
    """Refuse --plot where matplotlib is missing."""
    try:
        import matplotlib  # noqa: F401
    except ImportError:
        text = "--plot: needs matplotlib; install it with: pip install '.[plot]'"
        raise Refused(text) from None
