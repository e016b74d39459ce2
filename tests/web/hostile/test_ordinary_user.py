"""Folders that an ordinary user may not read or write, and imports onto links."""

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from kb.exchange.rows import Plan, guess_mapping, read_header
from kb.exchange.transfer import import_table
from kb.notebook import Notebook

from ..processes import PATIENCE_S

NOBODY = 65534  # the user without rights (Linux Standard Base, user "nobody" by custom)
# The program is read, and has answered once from another notebook, before it gives up its rights: root alone
# may read this Python.
AS_NOBODY = f"""
import os, sys
from kb.notebook import Notebook
from search.bench import Bench
import _strptime, click._termui_impl, encodings.unicode_escape, scipy.optimize
import web.cli.main, web.cli.notebook, web.cli.search
Bench(Notebook(sys.argv.pop(1))).answer("went off with a pop")
if os.geteuid() == 0:
    os.setgroups([]); os.setgid({NOBODY}); os.setuid({NOBODY})
web.cli.main.main(sys.argv[1:])
"""


def without_rights(other: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run a command of the program as a user whom the modes of files bind: root becomes nobody for it.

    other: a notebook that root may write to.
    """
    command = [sys.executable, "-c", AS_NOBODY, str(other), *words]
    return subprocess.run(command, capture_output=True, text=True, timeout=PATIENCE_S, check=False)


@pytest.mark.skipif(os.name != "posix", reason="needs the file modes of POSIX")
def test_unreadable_files_are_named_and_a_read_only_folder_still_answers(root: Path) -> None:
    with tempfile.TemporaryDirectory() as folder:  # pytest's own folders are closed to others
        os.chmod(folder, 0o755)
        shop = shutil.copytree(root, Path(folder) / "shop")
        (shop / "cases/2026/20260620-c5pp.md").chmod(0)
        (shop / "terms.toml").write_text("", encoding="utf-8")
        (shop / "terms.toml").chmod(0)
        before = sorted(shop.rglob("*"))
        folders = [shop, *(each for each in before if each.is_dir())]
        for each in folders:
            each.chmod(0o555)
        checked = without_rights(root, "check", "--notebook", str(shop))
        answered = without_rights(root, "search", "--notebook", str(shop), "went off with a pop")
        for each in folders:
            each.chmod(0o755)  # so that they can be removed
        assert "cases/2026/20260620-c5pp.md:1: note: cannot be read (Permission denied)" in checked.stdout
        assert "terms.toml:1: file: cannot be read (Permission denied)" in checked.stdout
        assert answered.returncode == 0, answered.stderr
        assert "PFC MOSFET shorted" in answered.stdout
        assert "Traceback" not in checked.stderr + answered.stderr
        assert sorted(shop.rglob("*")) == before


def test_import_writes_through_no_link(root: Path, tmp_path: Path) -> None:
    """Let links stand where a case, and the rejected rows, are going to be written."""
    victim = tmp_path / "victim"
    victim.write_text("mine", encoding="utf-8")
    (root / "cases/2025").mkdir()
    (root / "cases/2025/20250701-aaaa.md").symlink_to(victim)
    table = tmp_path / "list.csv"
    table.write_text(
        "case,date,device,family,symptom,cause found,minutes,result\n"
        "20250701-aaaa,2025-07-01,LED TV,HV-L2,dead,mains fuse open,20,fixed\n"
        "20250701-aaab,2025-07-01,LED TV,HV-L2,dead,mains fuse open,20,fixed\n"
    )
    report = import_table(
        Notebook(root), table, Plan(columns=guess_mapping(read_header(table))), dry_run=False
    )
    assert report.imported == 1
    assert victim.read_text(encoding="utf-8") == "mine"
