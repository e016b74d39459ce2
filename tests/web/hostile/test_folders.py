"""Folders that somebody else packed: links, pipes, odd names, and an index that wants to run something."""

import os
import pickle
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest
import whoosh.codec.whoosh3
from flask import Flask
from flask.testing import FlaskClient

import search.index.safe_pickle
from kb.attention import Attention
from kb.errors import NotebookError, NoteError
from kb.notebook import Notebook
from kb.notes.family import FamilyNote
from kb.storage.saving import WriteError
from kb.storage.writing import digest, remove_case, revise_text, save_family, save_new_case
from search.bench import Bench

from ..conftest import CASES
from ..notes import a_note
from ..processes import command, serving
from .tricks import Calls

SECRET = "keep this between us"
CASE = "20260621-0dd0"


@pytest.fixture
def secret(tmp_path: Path) -> Path:
    """Return a file outside the notebook that nobody may read or write through it."""
    path = tmp_path / "outside/secret.md"
    path.parent.mkdir()
    path.write_text(SECRET, encoding="utf-8")
    return path


def told(root: Path, name: str) -> list[str]:
    return [str(problem) for problem in Attention(Notebook(root)).problems() if name in problem.file]


def test_link_out_of_the_notebook_is_neither_read_nor_written(
    root: Path, client: FlaskClient, secret: Path
) -> None:
    relpath = f"cases/2026/{CASE}.md"
    (root / relpath).symlink_to(secret)
    (root / "families/linked.md").symlink_to(secret)
    for name in (CASE, "linked"):
        assert "a link that leads out of the notebook" in told(root, name)[0]
    for address in (f"/cases/{CASE}", f"/api/cases/{CASE}", f"/attention/note?file={relpath}", "/attention",
                    "/families/", "/?q=between", "/api/search?q=between"):  # fmt: skip
        response = client.get(address, follow_redirects=True)
        assert response.status_code < 500
        assert SECRET not in response.text
    good = f"---\n{CASES['20260620-c5pp']}".replace("20260620-c5pp", CASE)
    with pytest.raises(NoteError, match="leads out of the notebook"):
        revise_text(Notebook(root), relpath, good, expect=digest(SECRET.encode()))
    assert secret.read_text(encoding="utf-8") == SECRET


def test_link_within_the_notebook_is_followed(root: Path) -> None:
    (root / "families/other.md").symlink_to(root / "families/hv-l2.md")
    assert Notebook(root).read_family("families/other.md").chassis_family == "HV-L2"


def test_link_that_leads_to_itself_is_named(root: Path) -> None:
    (root / "families/loop.md").symlink_to("loop.md")
    assert "families/loop.md" in [each.file for each in Attention(Notebook(root)).problems()]


@pytest.mark.parametrize("name", [".benchlore", "cases", "families", ".benchlore/removed"])
def test_folder_that_is_a_link_is_refused_and_nothing_is_written_behind_it(
    root: Path, tmp_path: Path, name: str
) -> None:
    notebook = Notebook(root)
    saved = save_new_case(notebook, a_note())
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "mine.txt").write_text(SECRET, encoding="utf-8")
    (root / name).mkdir(exist_ok=True)
    (root / name).rename(tmp_path / "before")
    (root / name).symlink_to(elsewhere)
    with pytest.raises(NotebookError, match="a link; put the folder itself there"):
        Notebook(root)
    for attempt in (lambda: save_new_case(notebook, a_note()), lambda: remove_case(notebook, saved.case)):
        with pytest.raises(WriteError, match="this is a link"):
            attempt()
    assert [path.name for path in elsewhere.iterdir()] == ["mine.txt"]
    (root / name).unlink()
    (tmp_path / "before").rename(root / name)
    assert save_new_case(Notebook(root), a_note()).case


def test_year_that_is_a_link_takes_no_note_that_nobody_would_find(root: Path, tmp_path: Path) -> None:
    (tmp_path / "archive").mkdir()
    (root / "cases/2025").symlink_to(tmp_path / "archive")
    with pytest.raises(WriteError, match="this is a link"):
        save_new_case(Notebook(root), a_note(date="2025-06-21"))
    assert told(root, "cases/2025") == [
        "cases/2025:1: folder: a link to a folder; put the folder itself there"
    ]


def test_index_that_is_a_link_deletes_no_files_behind_it(root: Path, secret: Path) -> None:
    """An index folder is cleared of what does not belong to it; it must be our own."""
    (root / ".benchlore").mkdir()
    (root / ".benchlore/index").symlink_to(secret.parent)
    (root / ".benchlore/causes.part").symlink_to(secret)
    bench = Bench(Notebook(root), look_again_s=0)
    assert "a link; delete it" in bench.warning
    assert bench.answer("dead").cases
    save_new_case(bench.notebook, a_note())
    bench.refresh()
    assert len(bench.answer("", limit=50).cases) == len(CASES) + 1
    assert [path.read_text(encoding="utf-8") for path in secret.parent.iterdir()] == [SECRET]


def test_state_folder_that_is_a_file_stops_no_answer_and_a_save_says_so(
    root: Path, make_app: Callable[..., Flask]
) -> None:
    (root / ".benchlore").write_text("in the way", encoding="utf-8")
    client = make_app().test_client()
    assert client.get("/?q=dead").status_code == 200
    response = client.post("/api/cases", json={
        "date": "2026-06-21", "device": "LED TV", "chassis_family": "HV-L2", "symptom": ["dead"],
        "root_cause": "x", "fix_time": "5 min", "outcome": "fixed"})  # fmt: skip
    assert response.status_code == 503
    assert ".benchlore" in response.text
    assert (root / ".benchlore").read_text(encoding="utf-8") == "in the way"


def test_pipes_and_folders_with_the_names_of_files_hang_nothing(root: Path) -> None:
    """Use the program as processes of its own: one that waits for a pipe's other end is given up."""
    (root / f"cases/2026/{CASE}x.md").mkdir()
    (root / ".benchlore/index").mkdir(parents=True)
    pipes = (f"cases/2026/{CASE}.md", "families/pipe.md", "terms.toml", "shop.toml", ".benchlore/forms.key",
             ".benchlore/causes.model", ".benchlore/index/manifest.json")  # fmt: skip
    for name in pipes:
        os.mkfifo(root / name)
    (root / "families/nowhere.md").symlink_to(root / "nothing")
    lines = command(root, ["check"]).stdout
    for name in (CASE, "families/pipe", "families/nowhere"):
        assert f"{name}.md:1: note: not a plain file; put the note itself there" in lines
    assert "terms.toml:1: file: cannot be read (not a plain file)" in lines
    with serving(root) as (server,):
        assert len(server.get("/api/search", q="dead")["cases"]) >= 2
        assert "not a plain file" in server.get("/attention")
        with server.connected() as connection:
            connection.request("GET", f"/cases/{CASE}")
            assert connection.getresponse().status == 404


@pytest.mark.parametrize("name", ["\U00020bb7" * 90, "\u00e9" * 90, "x" * 4000])
def test_family_with_a_long_name_in_any_script_gets_a_file(root: Path, name: str) -> None:
    notebook = Notebook(root)
    relpath = save_family(notebook, FamilyNote(chassis_family=name, device="clock"))
    assert notebook.read_family(relpath).chassis_family == name
    assert len(os.fsencode(Path(relpath).name)) < 100


ODD_NAMES = [
    pytest.param(b"bad-\xff.md", "bad-\\udcff.md", id="not-utf8"),
    pytest.param(b"two\nlines.md", "two\\nlines.md", id="line-break"),
    pytest.param(b"\x1b[2Jclear.md", "\\x1b[2Jclear.md", id="terminal-command"),
    pytest.param("gnp\u202edm.md".encode(), "gnp\\u202edm.md", id="written-backwards"),
]


@pytest.mark.parametrize(("name", "shown"), ODD_NAMES)
def test_name_that_cannot_be_shown_is_told_in_plain_letters(
    root: Path, client: FlaskClient, name: bytes, shown: str
) -> None:
    for folder in ("cases/2026", "families"):
        Path(os.fsdecode(os.fsencode(root / folder) + b"/" + name)).write_text("x", encoding="utf-8")
    expected = "characters that cannot be shown; give it a plain name"
    assert f"cases/2026/{shown}:1: name: {expected}" in [
        str(problem) for problem in Attention(Notebook(root)).problems()
    ]
    lines = command(root, ["check"]).stdout
    assert f"families/{shown}:1: name: {expected}" in lines
    assert all(line.isprintable() for line in lines.splitlines())
    assert shown in client.get("/attention").text
    assert client.get("/?q=dead").status_code == 200


@pytest.mark.parametrize("load", [search.index.safe_pickle.loads, whoosh.codec.whoosh3.loads])
def test_only_parts_of_an_index_are_unpickled(
    load: Callable[[bytes], object], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(pickle.UnpicklingError, match="not a type that an index holds"):
        load(pickle.dumps(Calls(tmp_path / "pwned")))
    assert not (tmp_path / "pwned").exists()
    kept = ([1, 300, 70_000], [0.5, 2.0], b"")
    assert load(pickle.dumps(kept)) == kept


def test_no_part_of_an_index_unfolds_to_much_more_than_it_is() -> None:
    # Places for two thousand million objects, which the quick reader of pickles would make at once.
    far = pickle.dumps([1, 2], 2).replace(b"q\0", b"r\xff\xff\xff\x7f")
    assert search.index.safe_pickle.loads(far) == [1, 2]
    packed = zlib.compress(b"\0" * 1_000_000)
    assert len(search.index.safe_pickle.inflate(packed, 1_000_000)) == 1_000_000
    with pytest.raises(pickle.UnpicklingError, match="more than 999,999 bytes"):
        search.index.safe_pickle.inflate(packed, 999_999)
