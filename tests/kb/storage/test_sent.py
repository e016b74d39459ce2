"""A write-up that is sent twice is one case."""

import os

import pytest

from kb.notebook import Notebook
from kb.storage import writing
from kb.storage.saving import WriteError
from kb.storage.writing import MOST_KEPT, remove_case, save_new_case
from tests.kb.made_up_notes import new_case

KEY = "0123456789abcdef0123456789abcdef"


def notes(nb: Notebook) -> list[str]:
    return [path for path in nb.scan() if path.startswith("cases/")]


def test_same_note_under_the_same_key_is_one_case(nb: Notebook) -> None:
    first = save_new_case(nb, new_case(), once=KEY)
    assert save_new_case(nb, new_case(), once=KEY).case == first.case
    assert len(notes(nb)) == 1


@pytest.mark.parametrize("once", ["", "short", "../../escape-from-the-folder", "x" * 65, "ключ" * 8])
def test_without_a_good_key_each_note_is_a_case(nb: Notebook, once: str) -> None:
    save_new_case(nb, new_case(), once=once)
    save_new_case(nb, new_case(), once=once)
    assert len(notes(nb)) == 2
    assert not (nb.state_dir / "sent").exists()


def test_another_text_under_the_same_key_is_another_case(nb: Notebook) -> None:
    first = save_new_case(nb, new_case(), once=KEY)
    other = save_new_case(nb, new_case(root_cause="relay welded"), once=KEY)
    assert first.case != other.case
    assert len(notes(nb)) == 2


def test_repeat_after_a_crash_before_the_note_goes_on_with_its_number(
    nb: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    def crash(*_: object) -> None:
        raise WriteError("the current went off")

    with monkeypatch.context() as patched:
        patched.setattr(writing, "_write_new", crash)
        with pytest.raises(WriteError):
            save_new_case(nb, new_case(), once=KEY)
    assert notes(nb) == []
    drawn = writing.case_sent(nb, KEY, new_case())
    assert save_new_case(nb, new_case(), once=KEY).case == drawn
    assert len(notes(nb)) == 1


def test_repeat_does_not_bring_a_removed_case_back(nb: Notebook) -> None:
    first = save_new_case(nb, new_case(), once=KEY)
    remove_case(nb, first.case)
    assert save_new_case(nb, new_case(), once=KEY).case == first.case
    assert notes(nb) == []


@pytest.mark.parametrize("kept", [b"", b"not a case", b"\xff\xfe", b"20260101-k7f2", b"../x y\n"])
def test_spoilt_record_counts_as_none(nb: Notebook, kept: bytes) -> None:
    (nb.state_dir / "sent").mkdir(parents=True)
    (nb.state_dir / "sent" / KEY).write_bytes(kept)
    save_new_case(nb, new_case(), once=KEY)
    assert len(notes(nb)) == 1


def test_records_do_not_grow_for_ever(nb: Notebook) -> None:
    folder = nb.state_dir / "sent"
    folder.mkdir()
    for number in range(MOST_KEPT + 3):
        (folder / f"{number:032d}").write_text("old")
        os.utime(folder / f"{number:032d}", (number, number))
    save_new_case(nb, new_case(), once=KEY)
    kept = {path.name for path in folder.iterdir()}
    assert len(kept) == MOST_KEPT
    assert KEY in kept
    assert f"{3:032d}" not in kept
