"""The files of the page: one catalogue of texts, a strict policy, nothing from elsewhere."""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

import httpx

from ringset import study_fields
from ringset.wording import TERM_WORDS
from tests.api.running import Running
from tests.support.places import ROOT

PAGE = ROOT / "api" / "page"
TEXTS = {file.stem: json.loads(file.read_text()) for file in (PAGE / "texts").glob("*.json")}
SCRIPTS = sorted(PAGE.rglob("*.js"))
CODE = {
    file.relative_to(PAGE).as_posix(): file.read_text() for file in [*SCRIPTS, PAGE / "index.html"]
}
#: Folders of scripts: each may import from itself and from those before it; `main.js` from all.
FOLDERS = ("lib", "study", "analysis", "answer", ".")
AXE_SHA256 = "29348999450cdf2849a8e70b7912fc2da85a849da39c0d0d5394f51d4a9ed95c"


def test_every_language_has_the_same_texts_and_places() -> None:
    assert set(TEXTS) >= {"en", "de"}
    for code, texts in TEXTS.items():
        assert list(texts) == list(TEXTS["en"]), code
        for key, text in texts.items():
            assert text.strip(), (code, key)
            places = set(re.findall(r"\{(\w+)\}", text))
            assert places == set(re.findall(r"\{(\w+)\}", TEXTS["en"][key])), (code, key)


def used() -> tuple[set[str], list[str]]:
    """Return the keys that stand in the code as they are, and patterns of those that are put together."""
    code = "\n".join(CODE.values())
    plain = set(re.findall(r'"([a-z]+(?:\.[A-Za-z_]+)+)"', code))
    made = re.findall(r"`([a-z]+\.[^`]*\$\{[^`]*)`", code)
    patterns = [re.sub(r"\\\$\\\{.*?\\\}", ".+", re.escape(key)) for key in made]
    return plain, patterns


def test_every_text_is_used_and_every_text_used_is_there() -> None:
    plain, patterns = used()
    texts = TEXTS["en"]
    bare = {re.sub(r"\.(one|other)$", "", key) for key in texts}
    for key in bare:
        made = any(re.fullmatch(pattern, key) for pattern in patterns)
        assert key in plain or made or key == "language.name", key
    heads = {key.split(".")[0] for key in texts}
    files = re.compile(r"\.(js|css|json|svg|csv|zip|html)$")
    missing = {key for key in plain if key.split(".")[0] in heads and not files.search(key)}
    assert missing - bare - set(texts) == set()


def test_every_stage_that_the_service_tells_has_its_words() -> None:
    told = {
        "feasible",
        *re.findall(r'"stage": "(\w+)"', (ROOT / "api/workers/tasks.py").read_text()),
    }
    assert told >= {"assumptions", "band", "sheets"}
    assert {f"stage.{stage}" for stage in told} == {
        key for key in TEXTS["en"] if key.startswith("stage.")
    }


def test_every_field_and_term_has_its_words() -> None:
    texts = TEXTS["en"]
    for fact in study_fields():
        if fact.kind == "other" and fact.name != "head_angles_deg":
            continue
        if fact.place in ("", "shop.tubes[].") or fact.name == "order":
            continue
        prices = fact.place == "shop.prices."
        assert f"field.{'prices.' if prices else ''}{fact.name}" in texts, fact.name
    assert {f"term.{name}" for name in TERM_WORDS} == {k for k in texts if k.startswith("term.")}


def test_no_code_writes_markup_or_names_a_foreign_address() -> None:
    forbidden = r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|eval\(|new Function|srcdoc"
    for name, code in CODE.items():
        assert not re.search(forbidden, code), name
        addresses = set(re.findall(r"(?:https?:)?//[a-z0-9.-]+\.[a-z]{2,}", code))
        assert addresses <= {"http://www.w3.org"}, name
    html = CODE["index.html"]
    assert not re.search(r"<style|\son\w+=|\sstyle=|<script(?![^>]*\ssrc=)", html)


def test_no_file_is_long_and_every_file_is_named_by_the_page() -> None:
    for path in [*SCRIPTS, *PAGE.rglob("*.css")]:
        assert len(path.read_text().splitlines()) <= 450, path.name
        assert f'"/page/{path.relative_to(PAGE).as_posix()}"' in CODE["index.html"], path.name


def test_scripts_import_one_way_from_folder_to_folder() -> None:
    assert {file.parent.relative_to(PAGE).as_posix() for file in SCRIPTS} == set(FOLDERS)
    for file in SCRIPTS:
        may = FOLDERS[: FOLDERS.index(file.parent.relative_to(PAGE).as_posix()) + 1]
        for target in re.findall(r'^(?:import|\}) [^;]*"(.+)";$', file.read_text(), re.MULTILINE):
            other = (file.parent / target).resolve()
            assert other in SCRIPTS, f"{file}: {target}"
            assert other.parent.relative_to(PAGE).as_posix() in may, f"{file}: {target}"


def test_files_are_served_with_their_policy(service: Running) -> None:
    page = service.http.get("/")
    policy = page.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self';" in policy
    assert "unsafe" not in policy
    assert "require-trusted-types-for 'script'" in policy
    assert page.headers["X-Content-Type-Options"] == "nosniff"
    tag = page.headers["ETag"]
    assert service.http.get("/", headers={"If-None-Match": tag}).status_code == 304
    assert service.http.get("/page/main.js").headers["Content-Type"].startswith("text/javascript")
    languages = service.http.get("/page/texts.json").json()["languages"]
    assert {one["code"] for one in languages} == set(TEXTS)
    for path in ("/page/none.js", "/page/../app.py", "/page/%2e%2e/app.py", "/page/"):
        assert httpx.get(service.url + path).status_code == 404, path


def test_the_checker_is_the_published_one() -> None:
    """axe-core 4.14.1 from the npm registry, for tests only; MPL-2.0, its licence beside it."""
    folder = Path(__file__).parent / "axe"
    assert hashlib.sha256((folder / "axe.min.js").read_bytes()).hexdigest() == AXE_SHA256
    assert "Mozilla Public License" in (folder / "LICENSE").read_text()
