"""Saving, revising, removing: nothing lost, nothing touched that was not asked for."""

import datetime
import os
from pathlib import Path

import pytest
from hypothesis import given

from kb.errors import NoteError
from kb.notebook import Notebook, open_demo
from kb.notes.case import CaseNote, is_case_id
from kb.notes.family import FamilyNote
from kb.storage.writing import (
    ChangedOnDisk,
    WriteError,
    digest,
    remove_case,
    removed_cases,
    restore_case,
    revise_note,
    revise_text,
    save_family,
    save_new_case,
)
from tests.kb.made_up_notes import (
    CASE_ID,
    CASE_PATH,
    CASE_TEXT,
    cases,
    new_case,
    put,
    unhurried,
)


def stamped(nb: Notebook, relpath: str) -> str:
    return digest(nb.read_bytes(relpath))


def test_new_case_gets_a_number_and_its_place(nb: Notebook) -> None:
    saved = save_new_case(nb, new_case(date="2024-02-29"))
    assert is_case_id(saved.case)
    assert nb.case_path(saved.case) == f"cases/2024/{saved.case}.md"
    assert nb.read_case(f"cases/2024/{saved.case}.md") == saved


def test_case_that_brings_a_number_keeps_it_once(nb: Notebook) -> None:
    note = new_case(case=CASE_ID)
    assert save_new_case(nb, note) == note
    with pytest.raises(NoteError, match=f'case: "{CASE_ID}" is taken'):
        save_new_case(nb, note)


def test_number_of_a_removed_case_is_not_given_again(nb: Notebook, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = iter("aaaaaaaabbbbbbbbcccc")
    monkeypatch.setattr("kb.notes.case.secrets.choice", lambda _: next(drawn))
    assert save_new_case(nb, new_case()).case == "20260318-aaaa"
    remove_case(nb, "20260318-aaaa")
    assert save_new_case(nb, new_case()).case == "20260318-bbbb"
    assert save_new_case(nb, new_case()).case == "20260318-cccc"


def test_only_the_note_is_left_in_its_folder(nb: Notebook) -> None:
    saved = save_new_case(nb, new_case())
    assert [path.name for path in (nb.root / "cases/2026").iterdir()] == [f"{saved.case}.md"]


def test_clock_set_back_does_no_harm(nb: Notebook, monkeypatch: pytest.MonkeyPatch) -> None:
    late = save_new_case(nb, new_case())
    monkeypatch.setattr("time.time", lambda: 0.0)
    monkeypatch.setattr("time.time_ns", lambda: 0)
    early = save_new_case(nb, new_case(date=datetime.date(1970, 1, 1)))
    relpath = nb.case_path(late.case)
    assert relpath is not None
    revise_note(nb, relpath, {"tech": "RK"}, body=None, expect=stamped(nb, relpath))
    assert {nb.read_case(path).case for path in nb.scan()} == {late.case, early.case}


def test_revision_within_one_tick_of_the_clock_is_seen(nb: Notebook, monkeypatch: pytest.MonkeyPatch) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    before = nb.scan()[CASE_PATH]
    real = os.fstat

    class Frozen:
        def __init__(self, status: os.stat_result) -> None:
            self._status = status
            self.st_mtime_ns = before[1]

        def __getattr__(self, name: str) -> object:
            return getattr(self._status, name)

    monkeypatch.setattr(os, "fstat", lambda handle: Frozen(real(handle)))
    revise_note(nb, CASE_PATH, {"tech": "JS"}, body=None, expect=stamped(nb, CASE_PATH))
    assert nb.scan()[CASE_PATH] == (before[0], before[1] + 1)


def test_revision_keeps_what_it_does_not_change(nb: Notebook) -> None:
    text = (
        "\ufeff"
        + CASE_TEXT.replace("tech: RK", "tech:   'RK' # me\nshelf: B4").replace("\n", "\r\n")
        + "\r\n \r\n"
    )
    put(nb, CASE_PATH, text)
    revise_note(
        nb, CASE_PATH, {"outcome": "Not fixed", "fix_time": 80}, body=None, expect=stamped(nb, CASE_PATH)
    )
    expected = text.replace("outcome: fixed", "outcome: not fixed").replace("55 min", "1 h 20 min")
    assert nb.read_bytes(CASE_PATH).decode("utf-8") == expected


def test_revision_that_says_the_same_leaves_the_bytes(nb: Notebook) -> None:
    text = CASE_TEXT.replace("fix_time: 55 min", "fix_time: 0:55").replace(
        "blinks: 3 or 4", "blinks: 'four or three'"
    )
    put(nb, CASE_PATH, text.replace("outcome: fixed", "outcome: FIXED") + "\n\n")
    before, stamp = nb.read_bytes(CASE_PATH), nb.scan()[CASE_PATH]
    note = nb.read_case(CASE_PATH)
    result = revise_note(nb, CASE_PATH, note.as_fields(), body=note.body + "\r\n", expect=digest(before))
    assert result == digest(before)
    assert nb.read_bytes(CASE_PATH) == before
    assert nb.scan()[CASE_PATH] == stamp


@given(cases)
@unhurried(50)
def test_any_case_read_and_saved_unchanged_is_byte_identical(tmp_path: Path, note: CaseNote) -> None:
    (tmp_path / "bench").mkdir(exist_ok=True)
    nb = Notebook(tmp_path / "bench")
    relpath = put(nb, f"cases/2026/{note.case}.md", note.as_text())
    before = nb.read_bytes(relpath)
    read = nb.read_case(relpath)
    assert revise_note(nb, relpath, read.as_fields(), body=read.body, expect=digest(before)) == digest(before)
    assert nb.read_bytes(relpath) == before


def test_demo_read_and_saved_unchanged_is_byte_identical(tmp_path: Path) -> None:
    demo = open_demo(tmp_path)
    for relpath in demo.scan():
        if relpath.startswith("cases/"):
            note, before = demo.read_case(relpath), demo.read_bytes(relpath)
            revise_note(demo, relpath, note.as_fields(), body=note.body, expect=digest(before))
            assert demo.read_bytes(relpath) == before


def test_note_changed_meanwhile_is_not_written_over(nb: Notebook) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    opened = stamped(nb, CASE_PATH)
    put(nb, CASE_PATH, CASE_TEXT.replace("RK", "AM"))
    with pytest.raises(ChangedOnDisk, match="look at both versions") as caught:
        revise_note(nb, CASE_PATH, {"tech": "JS"}, body=None, expect=opened)
    assert "tech: AM" in caught.value.current_text
    assert "tech: AM" in nb.read_bytes(CASE_PATH).decode("utf-8")
    (nb.root / CASE_PATH).unlink()
    with pytest.raises(ChangedOnDisk, match="was removed meanwhile") as caught:
        revise_note(nb, CASE_PATH, {"tech": "JS"}, body=None, expect=opened)
    assert caught.value.current_text == ""


def test_revision_that_would_spoil_the_note_is_refused(nb: Notebook) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    changes = {"outcome": "mended", "device": "", "case": "20260318-aaaa", "blinks": "2-3"}
    with pytest.raises(NoteError) as caught:
        revise_note(nb, CASE_PATH, changes, body=None, expect=stamped(nb, CASE_PATH))
    assert {problem.field for problem in caught.value.problems} >= {"outcome", "device", "blinks"}
    with pytest.raises(NoteError, match="rename the file"):
        revise_note(nb, CASE_PATH, {"case": "20260318-aaaa"}, body=None, expect=stamped(nb, CASE_PATH))
    assert nb.read_bytes(CASE_PATH).decode("utf-8") == CASE_TEXT


def test_bad_note_is_mended_as_a_whole_text(nb: Notebook) -> None:
    put(nb, CASE_PATH, CASE_TEXT.replace("PFC MOSFET", "Q801: MOSFET"))
    with pytest.raises(NoteError, match="root_cause"):
        revise_note(nb, CASE_PATH, {"tech": "JS"}, body=None, expect=stamped(nb, CASE_PATH))
    with pytest.raises(NoteError, match="outcome"):
        revise_text(nb, CASE_PATH, CASE_TEXT.replace("fixed", "mended"), expect=stamped(nb, CASE_PATH))
    with pytest.raises(NoteError, match="delete the control character"):
        revise_text(nb, CASE_PATH, CASE_TEXT + "\ud800", expect=stamped(nb, CASE_PATH))
    assert revise_text(nb, CASE_PATH, CASE_TEXT, expect=stamped(nb, CASE_PATH)) == digest(
        CASE_TEXT.encode("utf-8")
    )
    assert nb.read_case(CASE_PATH).root_cause == "PFC MOSFET shorted"


def test_case_is_removed_and_restored(nb: Notebook) -> None:
    put(nb, "cases/tv/" + Path(CASE_PATH).name, CASE_TEXT + "\n\n")
    removed = remove_case(nb, CASE_ID)
    assert nb.scan() == {}
    assert removed_cases(nb) == [removed]
    assert restore_case(nb, removed) == CASE_ID
    assert nb.read_bytes(f"cases/tv/{CASE_ID}.md").decode("utf-8") == CASE_TEXT + "\n\n"
    assert removed_cases(nb) == []
    with pytest.raises(NoteError, match="give a case that was removed"):
        restore_case(nb, removed)


def test_case_removed_twice_can_be_brought_back_either_way(nb: Notebook) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    first = remove_case(nb, CASE_ID)
    put(nb, CASE_PATH, CASE_TEXT.replace("RK", "AM"))
    second = remove_case(nb, CASE_ID)
    restore_case(nb, second)
    with pytest.raises(NoteError, match="is taken"):
        restore_case(nb, first)
    assert nb.read_case(CASE_PATH).tech == "AM"
    remove_case(nb, CASE_ID)
    restore_case(nb, first)
    assert nb.read_case(CASE_PATH).tech == "RK"


@pytest.mark.parametrize(
    "name", ["", "20200101-aaaa", "../cases", f"{CASE_ID}./../../cases", f"{CASE_ID}.2", "."]
)
def test_unknown_case_is_neither_removed_nor_restored(nb: Notebook, name: str) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    with pytest.raises(NoteError):
        restore_case(nb, name)
    with pytest.raises(NoteError):
        remove_case(nb, name)
    assert list(nb.scan()) == [CASE_PATH]


def test_family_is_saved_once_and_revised(nb: Notebook) -> None:
    note = FamilyNote.from_fields(
        {"chassis_family": "HV-L2 / b", "device": "LED TV", "before_power": ["Look first"]}
    )
    relpath = save_family(nb, note)
    assert relpath == "families/hv-l2-b.md"
    assert nb.families() == {"HV-L2 / b": note}
    with pytest.raises(NoteError, match="has a note already"):
        save_family(nb, note)
    assert save_family(nb, note.model_copy(update={"chassis_family": "HV L2 B"})) == "families/hv-l2-b-2.md"
    changes = {
        "blink_meaning": [["three", "fuse"]],
        "opening_time": 12,
        "before_power": ["Look first", "Smell"],
    }
    revise_note(nb, relpath, changes, body="Forty screws.", expect=stamped(nb, relpath))
    assert nb.read_bytes(relpath).decode("utf-8") == (
        "---\nchassis_family: HV-L2 / b\ndevice: LED TV\nopening_time: 12 min\n"
        "before_power: [Look first, Smell]\nblink_meaning:\n  3: fuse\n---\nForty screws.\n"
    )


def test_family_name_without_letters_still_gets_a_file(nb: Notebook) -> None:
    assert (
        save_family(nb, FamilyNote.from_fields({"chassis_family": "../..", "device": "radio"}))
        == "families/family.md"
    )


def test_note_that_is_a_link_stays_one(nb: Notebook) -> None:
    put(nb, "shared/note.txt", CASE_TEXT)
    (nb.root / "cases/2026").mkdir()
    (nb.root / CASE_PATH).symlink_to(nb.root / "shared/note.txt")
    revise_note(nb, CASE_PATH, {"tech": "AM"}, body=None, expect=stamped(nb, CASE_PATH))
    assert (nb.root / CASE_PATH).is_symlink()
    assert "tech: AM" in (nb.root / "shared/note.txt").read_text(encoding="utf-8")


def test_permissions_of_a_note_are_kept(nb: Notebook) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    (nb.root / CASE_PATH).chmod(0o640)
    revise_note(nb, CASE_PATH, {"tech": "AM"}, body=None, expect=stamped(nb, CASE_PATH))
    assert (nb.root / CASE_PATH).stat().st_mode & 0o777 == 0o640


def test_write_error_is_told_apart_from_a_bad_note() -> None:
    assert not issubclass(WriteError, NoteError)
