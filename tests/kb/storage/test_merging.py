"""One name for one cause, in every note."""

import pytest

from kb.notebook import Notebook
from kb.storage.saving import WriteError
from kb.storage.writing import merge_causes
from tests.kb.made_up_notes import CASE_TEXT, put

SPELLINGS = {
    "20260101-aaaa": "root_cause:  'MOSFET  of PFC shorted' # sure",
    "20260102-bbbb": "root_cause: >-\n  mosfet of\n  PFC shorted",
    "20260103-cccc": "root_cause: PFC MOSFET shorted",
    "20260104-dddd": "root_cause: dry joint",
}


@pytest.fixture
def nb(nb: Notebook) -> Notebook:
    for case, line in SPELLINGS.items():
        text = CASE_TEXT.replace("20260318-k7f2", case).replace("root_cause: PFC MOSFET shorted", line)
        put(nb, f"cases/2026/{case}.md", text)
    put(nb, "cases/2026/20260105-eeee.md", "---\nroot_cause: mosfet of pfc shorted\n---\n")
    return nb


def test_changes_are_shown_first_and_then_made(nb: Notebook) -> None:
    before = {path: nb.read_bytes(path) for path in nb.scan()}
    shown = merge_causes(nb, ["MOSFET of PFC shorted"], "PFC MOSFET shorted", dry_run=True)
    assert shown == [
        ("cases/2026/20260101-aaaa.md", 10, "MOSFET of PFC shorted", "PFC MOSFET shorted"),
        ("cases/2026/20260102-bbbb.md", 10, "mosfet of PFC shorted", "PFC MOSFET shorted"),
    ]
    assert {path: nb.read_bytes(path) for path in nb.scan()} == before
    assert merge_causes(nb, ["MOSFET of PFC shorted"], "PFC MOSFET shorted", dry_run=False) == shown
    changed = {path for path in nb.scan() if nb.read_bytes(path) != before[path]}
    assert changed == {change.file for change in shown}
    assert b"root_cause:  PFC MOSFET shorted # sure\n" in nb.read_bytes("cases/2026/20260101-aaaa.md")
    assert merge_causes(nb, ["MOSFET of PFC shorted"], "PFC MOSFET shorted", dry_run=False) == []


def test_only_the_notes_given_are_looked_at(nb: Notebook) -> None:
    path = "cases/2026/20260102-bbbb.md"
    paths = [path, "families/x.md", "cases/2026/20260101-zzzz.md"]
    changes = merge_causes(nb, ["mosfet of pfc shorted"], "x", dry_run=True, paths=paths)
    assert [change.file for change in changes] == [path]


@pytest.mark.parametrize(("causes", "into"), [([], "x"), (["dry joint"], " ")])
def test_nothing_to_merge(nb: Notebook, causes: list[str], into: str) -> None:
    assert merge_causes(nb, causes, into, dry_run=False) == []


def test_merging_stopped_halfway_goes_on_later(nb: Notebook, monkeypatch: pytest.MonkeyPatch) -> None:
    saved: list[str] = []

    def one_then_full(nb: Notebook, relpath: str, *_: object, **__: object) -> str:
        if saved:
            raise WriteError("the disk is full")
        saved.append(relpath)
        return ""

    with monkeypatch.context() as broken:
        broken.setattr("kb.storage.writing.revise_note", one_then_full)
        with pytest.raises(WriteError):
            merge_causes(nb, ["MOSFET of PFC shorted"], "PFC MOSFET shorted", dry_run=False)
    assert len(merge_causes(nb, ["MOSFET of PFC shorted"], "PFC MOSFET shorted", dry_run=False)) == 2
