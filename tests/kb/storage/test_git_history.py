"""A notebook's history in git: one commit a save, and never a save that fails because of it."""

import subprocess
from pathlib import Path

import pytest

from kb.attention import Attention
from kb.notebook import Notebook
from kb.storage.git_history import commit_note, why_no_history
from kb.storage.writing import digest, remove_case, revise_note, save_new_case
from tests.kb.made_up_notes import empty_notebook, new_case, put


@pytest.fixture(autouse=True)
def no_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep whoever runs the tests out of it: no name, no address, no hooks, no template."""
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setenv("GIT_CONFIG_NOSYSTEM", "1")


def git(folder: Path, *arguments: str) -> str:
    done = subprocess.run(["git", "-C", str(folder), *arguments], capture_output=True, text=True, check=True)
    return done.stdout.strip()


@pytest.fixture
def nb(nb: Notebook) -> Notebook:
    git(nb.root, "init", "--quiet")
    return nb


def saved(nb: Notebook) -> str:
    path = nb.case_path(save_new_case(nb, new_case()).case)
    assert path is not None
    return path


def test_one_save_is_one_commit_of_one_note(nb: Notebook) -> None:
    path, other = saved(nb), saved(nb)
    assert commit_note(nb, [path], tech="RK", message="Add a case\nof two lines") == ""
    assert git(nb.root, "log", "--format=%an <%ae> %s") == "RK <rk@bench.invalid> Add a case of two lines"
    assert git(nb.root, "show", "--name-only", "--format=") == path
    assert other in git(nb.root, "status", "--porcelain", "--untracked-files=all")


def test_repository_of_longer_object_ids_records_saves_too(tmp_path: Path) -> None:
    nb = empty_notebook(tmp_path / "long")
    git(nb.root, "init", "--quiet", "--object-format=sha256")
    path = saved(nb)
    for _ in range(2):
        assert commit_note(nb, [path], tech="RK", message="Add") == ""
    assert git(nb.root, "rev-list", "--count", "HEAD") == "1"
    nb.path_of(path).unlink()
    assert commit_note(nb, [path], tech="RK", message="Remove") == ""
    assert git(nb.root, "ls-tree", "-r", "HEAD") == git(nb.root, "status", "--porcelain") == ""


def test_what_else_is_staged_stays_staged(nb: Notebook) -> None:
    path = saved(nb)
    put(nb, "plan.txt", "x")
    git(nb.root, "add", "plan.txt")
    assert commit_note(nb, [path], tech="RK", message="Add") == ""
    assert git(nb.root, "diff", "--cached", "--name-only") == "plan.txt"


def test_revision_and_removal_are_committed(nb: Notebook) -> None:
    path = saved(nb)
    commit_note(nb, [path], tech="RK", message="Add")
    revise_note(nb, path, {"tech": "AM"}, body=None, expect=digest(nb.read_bytes(path)))
    assert commit_note(nb, [path], tech="AM", message="Revise") == ""
    assert commit_note(nb, [path], tech="AM", message="Nothing new") == ""
    remove_case(nb, Path(path).stem)
    assert commit_note(nb, [path], tech="JS", message="Remove") == ""
    assert commit_note(nb, ["cases/2026/20260318-zzzz.md"], tech="JS", message="Never there") == ""
    assert git(nb.root, "log", "--format=%an %s").splitlines() == ["JS Remove", "AM Revise", "RK Add"]
    assert git(nb.root, "ls-files") == ""


@pytest.mark.parametrize(("tech", "author"), [
    ("", "bench <bench@bench.invalid>"), ("Réka K.", "Réka K <r.ka.k@bench.invalid>"),
    ("<x> --amend\n", "x --amend <x.amend@bench.invalid>"),
])  # fmt: skip
def test_any_name_of_a_technician_will_do(nb: Notebook, tech: str, author: str) -> None:
    assert commit_note(nb, [saved(nb)], tech=tech, message="--amend") == ""
    assert git(nb.root, "log", "--format=%an <%ae> %s") == f"{author} --amend"


def test_own_settings_name_the_committer(nb: Notebook) -> None:
    git(nb.root, "config", "user.name", "Bench Two")
    git(nb.root, "config", "user.email", "two@bench.invalid")
    commit_note(nb, [saved(nb)], tech="RK", message="Add")
    assert git(nb.root, "log", "--format=%an, %cn") == "RK, Bench Two"


def test_many_notes_go_into_one_commit(nb: Notebook) -> None:
    paths = [put(nb, f"cases/2026/{'long-name-' * 12}{number}.md", "x") for number in range(3000)]
    assert commit_note(nb, paths, tech="RK", message="Import") == ""
    assert len(git(nb.root, "ls-files").splitlines()) == 3000


def test_path_is_taken_as_it_stands(nb: Notebook) -> None:
    put(nb, "cases/2026/a*.md", "x")
    put(nb, "cases/2026/ab.md", "x")
    commit_note(nb, ["cases/2026/a*.md"], tech="RK", message="Add")
    assert git(nb.root, "ls-files") == "cases/2026/a*.md"


def test_failing_git_is_a_warning(nb: Notebook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = saved(nb)
    lock = put(nb, ".git/index.lock", "")
    assert "index.lock" in commit_note(nb, [path], tech="RK", message="Add")
    (nb.root / lock).unlink()
    merge = put(nb, ".git/MERGE_HEAD", "")
    assert "a merge is under way" in commit_note(nb, [path], tech="RK", message="Add")
    assert "cases/" in git(nb.root, "status", "--porcelain")  # nothing is half committed
    (nb.root / merge).unlink()
    (nb.root / ".git/logs").symlink_to(tmp_path)
    assert "leads elsewhere" in why_no_history(nb)
    (nb.root / ".git/logs").unlink()
    outside = empty_notebook(tmp_path / "outside")
    assert "git init" in why_no_history(outside)
    assert "not a git repository" in commit_note(outside, [saved(outside)], tech="RK", message="Add")
    monkeypatch.setenv("PATH", str(tmp_path))
    assert "git is not installed" in why_no_history(nb)
    assert "git is not installed" in commit_note(nb, [path], tech="RK", message="Add")


def test_surrounding_git_is_not_taken_for_ours(nb: Notebook, monkeypatch: pytest.MonkeyPatch) -> None:
    path = saved(nb)
    with monkeypatch.context() as hook:
        hook.setenv("GIT_DIR", "/nowhere")
        hook.setenv("GIT_INDEX_FILE", "/nowhere/index")
        assert why_no_history(nb) == ""
        assert commit_note(nb, [path], tech="RK", message="Add") == ""


def test_notes_of_two_benches_merge(nb: Notebook, tmp_path: Path) -> None:
    commit_note(nb, [saved(nb)], tech="RK", message="Add")
    git(tmp_path, "clone", "--quiet", str(nb.root), "other")
    other = Notebook(tmp_path / "other")
    for bench, tech in ((nb, "RK"), (other, "AM")):
        for _ in range(3):
            assert commit_note(bench, [saved(bench)], tech=tech, message="Add") == ""
    git(other.root, "config", "user.name", "AM")
    git(other.root, "config", "user.email", "am@bench.invalid")
    git(other.root, "pull", "--quiet", "--no-rebase", "--no-edit")
    assert len(other.scan()) == 7
    assert Attention(other).problems()[0].field == "chassis_family"
    assert len(Attention(other).problems()) == 1
