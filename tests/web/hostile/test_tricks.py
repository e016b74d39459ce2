"""Whatever somebody packed into a notebook: nothing runs, nothing gets out, the bench answers and saves."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from kb.attention import Attention
from kb.notebook import Notebook
from search.bench import Bench
from web.app import create_app
from web.cli.main import main

from ..conftest import write_notebook
from ..repositories import git
from .tricks import TRICKS, Target

PAGES = (
    "/", "/?q=dead", "/families/", "/families/HV-L2", "/cases/20260318-k7f2", "/cases/new", "/attention",
    "/about", "/weak-points", "/api/search?q=dead", "/api/families", "/api/suggest?field=root_cause&text=d",
)  # fmt: skip
WRITE_UP = {
    "date": "2026-06-21", "device": "LED TV", "chassis_family": "HV-L2", "symptom": ["quacks"],
    "root_cause": "speaker torn", "fix_time": "5 min", "outcome": "fixed", "tech": "RK",
}  # fmt: skip


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a sound notebook with an index and a history; tests work on copies."""
    root = write_notebook(tmp_path_factory.mktemp("sound") / "notebook")
    git(root, "init", "--quiet")
    git(root, "add", "--all")
    git(root, "commit", "--quiet", "--message", "start")
    Bench(Notebook(root)).answer("dead")
    return root


@pytest.fixture
def target(sound: Path, tmp_path: Path) -> Target:
    """Return a copy to play a trick on."""
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "secret.md").write_text("keep this between us", encoding="utf-8")
    root = shutil.copytree(sound, tmp_path / "notebook")
    return Target(root=root, mark=tmp_path / "mark", outside=outside)


def check_bench(bench: Bench, target: Target) -> Iterator[str]:
    """Look at every page, save a case and find it; yield what `check` says."""
    app = create_app(bench, testing=True, git=True)
    client = app.test_client()
    for path in PAGES:
        response = client.get(path)
        assert response.status_code == 200, (path, response.text[:500])
        assert "keep this between us" not in response.text
    first = client.get("/api/search?q=went off with a pop at teatime").json
    assert first is not None
    assert first["cases"][0]["case"] == "20260318-k7f2"
    saved = client.post("/api/cases", json=WRITE_UP)
    assert saved.status_code == 201, saved.text
    found = client.get("/api/search?q=quacks").json
    assert found is not None
    assert saved.json is not None
    assert found["cases"][0]["case"] == saved.json["case"]
    yield from map(str, Attention(bench.notebook).problems())


@pytest.mark.parametrize("running", [False, True], ids=["before", "while-running"])
@pytest.mark.parametrize("name", TRICKS)
def test_trick_fails(name: str, running: bool, target: Target) -> None:
    trick = TRICKS[name]
    early = Bench(Notebook(target.root), look_again_s=0) if running else None
    if early:
        early.answer("dead")
    trick.plant(target)
    said = list(check_bench(early or Bench(Notebook(target.root), look_again_s=0), target))
    assert all(line.isprintable() for line in said)
    assert [line for line in said if trick.told in line] or not trick.told, said
    assert not target.mark.exists(), target.mark.read_text(encoding="utf-8")
    assert [path.read_text(encoding="utf-8") for path in target.outside.iterdir()] == ["keep this between us"]


@pytest.mark.parametrize("command", ["search dead", "family HV-L2", "evaluate"])
@pytest.mark.parametrize("name", ["stored_notes_are_noise", "postings_are_noise"])
def test_command_outlives_an_index_that_cannot_be_used(name: str, command: str, target: Target) -> None:
    TRICKS[name].plant(target)
    result = CliRunner().invoke(main, [*command.split(), "--notebook", str(target.root)])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    assert result.output
