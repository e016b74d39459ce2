"""What the command line saves is recorded in git when that is asked for."""

import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from web.cli.main import main

from .repositories import git

ROWS = """date,device,family,symptom,cause found,minutes,result
2026-07-01,LED TV,HV-L2,dead,mains fuse open,20,fixed
2026-07-02,LED TV,HV-L2,no sound,speaker plug loose,15,fixed
"""


def last_commit(repository: Path) -> tuple[str, list[str]]:
    """Return author and message of the last commit, and the files it holds."""
    said = git(repository, "log", "-1", "--format=%an %s").strip()
    return said, git(repository, "show", "--format=", "--name-only").split()


def test_import_is_one_commit_of_all_its_notes(repository: Path, tmp_path: Path) -> None:
    table = tmp_path / "list.csv"
    table.write_text(ROWS)
    arguments = ["import", str(table), "--notebook", str(repository), "--git"]
    assert CliRunner().invoke(main, [*arguments, "--dry-run"]).exit_code == 0
    assert last_commit(repository)[0].endswith("start")
    assert CliRunner().invoke(main, arguments).exit_code == 0
    said, files = last_commit(repository)
    assert said.endswith("Import 2 cases from list.csv")
    assert len(files) == 2
    assert git(repository, "status", "--porcelain") == ""


def test_new_is_one_commit_by_its_technician(
    repository: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    typed = tmp_path / "typed.md"
    typed.write_text(
        "---\ndate: 2026-07-03\nmodel: HV-43L2\nsymptom: [dead]\nroot_cause: mains fuse open\n"
        "fix_time: 20 min\noutcome: fixed\ntech: AM\n---\n"
    )
    script = tmp_path / "editor.py"
    script.write_text(f"import shutil, sys\nshutil.copyfile({str(typed)!r}, sys.argv[1])\n")
    monkeypatch.setenv("VISUAL", f'"{sys.executable}" "{script}"')
    result = CliRunner().invoke(main, ["new", "--notebook", str(repository), "--git"])
    assert result.exit_code == 0, result.output
    said, files = last_commit(repository)
    assert said.startswith("AM Write up 20260703-")
    assert len(files) == 1
    assert git(repository, "status", "--porcelain") == ""


@pytest.mark.parametrize("arguments", [["new"], ["import", "list.csv"], ["serve", "--port", "0"]])
def test_git_needs_a_repository(root: Path, arguments: list[str]) -> None:
    result = CliRunner().invoke(main, [*arguments, "--notebook", str(root), "--git"])
    assert result.exit_code == 1
    assert "git init" in result.output
