"""Check that the index follows the notes, is shared between processes, and never answers from damage."""

import multiprocessing
import os
import random
import shutil
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import search.index.case_index
import search.index.documents
import search.index.integrity
import search.index.postings
import search.index.segments
import search.scoring.bm25f
from kb.errors import NotebookError
from kb.notebook import FileStamp, Notebook
from search.index.case_index import CaseIndex, RefreshReport, Snapshot
from search.index.codec import Posting, read_postings
from search.index.documents import read_documents
from search.index.integrity import MANIFEST
from search.index.postings import MemoryPostings
from search.index.rows import FIELDS
from search.reading.concepts import ConceptFinder
from search.scoring.bm25f import Collection, top
from tests.search.notebooks import case_number, note_text, small_notebook, write_note
from tests.search.tables import word


def found(snapshot: Snapshot, *words: str) -> list[str]:
    """Return the cases found for some stems, best first."""
    scores = Collection(snapshot.source).scores([word(each) for each in words])
    rows = top(scores, snapshot.table.date_days, snapshot.table.ids, 1000)
    return [snapshot.table.ids[row] for row in rows]


def content(snapshot: Snapshot) -> dict[str, Any]:
    """Return all an index answers with, whatever the order and number of its segments."""
    table = snapshot.table
    rows = sorted(np.flatnonzero(table.alive).tolist(), key=lambda row: table.paths[row])
    words = ("owner", "=no power", "led", "shor", "marker", "pictur", "short", "bench")
    scores = Collection(snapshot.source).scores([word(each) for each in words])
    return {
        "notes": [(table.paths[row], table.note(row)) for row in rows],
        "scores": [round(float(scores[row]), 4) for row in rows],
        "causes": [table.cause_names[code] if code >= 0 else "" for code in table.cause[rows].tolist()],
        "names": (table.cause_names, table.cause_keys, table.family_names, table.blink_patterns),
        "readable": table.readable[rows].tolist(),
        "words": snapshot.lexicon._frequencies,
        "vectors": None if snapshot.vectors is None else np.concatenate(snapshot.vectors)[rows].tolist(),
    }


def living(index: CaseIndex) -> list[str]:
    """Return the numbers of the cases that were not taken out."""
    table = index.snapshot().table
    return [table.ids[row] for row in np.flatnonzero(table.alive)]


def files_of(notebook: Notebook) -> list[Path]:
    """Return the files of the index on disk."""
    return sorted((notebook.state_dir / "index").iterdir())


def notes_of(notebook: Notebook) -> dict[str, bytes]:
    """Return every note's bytes."""
    return {path: notebook.read_bytes(path) for path in notebook.scan()}


def age(path: Path, seconds: int = 60) -> None:
    """Set a file's time back, so that its stamp is believed."""
    status = path.stat()
    os.utime(path, ns=(status.st_atime_ns, status.st_mtime_ns - seconds * 10**9))


@pytest.fixture
def notebook(tmp_path: Path) -> Notebook:
    made = small_notebook(tmp_path / "notebook")
    for path in made.scan():
        age(made.root / path)
    return made


@pytest.fixture
def reads(notebook: Notebook, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Record which notes are read."""
    seen: list[str] = []
    read_bytes = notebook.read_bytes

    def recording(relpath: str) -> bytes:
        seen.append(relpath)
        return read_bytes(relpath)

    monkeypatch.setattr(notebook, "read_bytes", recording)
    return seen


def test_a_new_index_holds_every_note(notebook: Notebook) -> None:
    snapshot = CaseIndex(notebook).snapshot()
    assert sorted(snapshot.table.ids) == [case_number(number) for number in range(12)]
    assert found(snapshot, "markera003") == [case_number(3)]
    assert snapshot.table.note(snapshot.table.row_of[case_number(3)]) == notebook.read_case(
        f"cases/2024/{case_number(3)}.md"
    )


def test_its_posting_lists_are_those_of_the_notes(notebook: Notebook) -> None:
    index = CaseIndex(notebook)
    write_note(notebook.root, "20250101-new0")
    index.refresh()
    snapshot = index.snapshot()
    assert len(snapshot.segments.parts) == 2
    finder = ConceptFinder(notebook.vocabulary())
    read = [(path, notebook.read_bytes(path), (0, 0)) for path in snapshot.table.paths]
    documents = [document.terms for document in read_documents(read, finder)]
    memory = MemoryPostings(documents)
    for field in FIELDS:
        assert snapshot.source.lengths(field).tolist() == memory.lengths(field).tolist()
        for term in {term for document in documents for term in document[field]}:
            ours, wanted = snapshot.source.postings(field, term), memory.postings(field, term)
            assert [part.tolist() for part in ours] == [part.tolist() for part in wanted]


def _score(snapshot: Snapshot) -> int:
    return len(Collection(snapshot.source).having("markera003"))


def _read(snapshot: Snapshot) -> int:
    return len(snapshot.source.postings("body", "markera003")[0])


@pytest.mark.parametrize("asked", [_read, _score], ids=["list", "scores"])
def test_after_a_save_only_the_new_segments_lists_are_read(
    notebook: Notebook, monkeypatch: pytest.MonkeyPatch, asked: Callable[[Snapshot], int]
) -> None:
    read: list[str] = []

    def recording(leaf: Any, field: str, term: str) -> Posting:
        read.append(leaf.segment().segment_id())
        return read_postings(leaf, field, term)

    monkeypatch.setattr(search.index.postings, "read_postings", recording)
    monkeypatch.setattr(search.scoring.bm25f, "ROUNDED_FROM", 1)
    monkeypatch.setattr(search.scoring.bm25f, "_rounded", round)  # of so few notes one more changes a digit
    index = CaseIndex(notebook)
    assert asked(index.snapshot()) == 1
    first = {*read}
    read.clear()
    write_note(notebook.root, "20250101-new0", body="markera003")
    index.refresh()
    assert asked(index.snapshot()) == 2
    assert len(first) == len({*read}) == 1
    assert first.isdisjoint(read)


def test_an_added_a_changed_and_a_removed_note_are_followed(notebook: Notebook) -> None:
    index = CaseIndex(notebook)
    write_note(notebook.root, "20250101-new0")
    write_note(notebook.root, case_number(5), root_cause="moth in the relay")
    (notebook.root / f"cases/2024/{case_number(7)}.md").unlink()
    assert index.refresh() == RefreshReport(added=1, changed=1, removed=1)
    snapshot = index.snapshot()
    assert found(snapshot, "markernew0") == ["20250101-new0"]
    assert found(snapshot, "moth") == [case_number(5)]
    assert found(snapshot, "markera007") == []
    assert case_number(7) not in snapshot.table.row_of
    assert index.refresh() == RefreshReport()


def test_only_changed_notes_are_read(notebook: Notebook, reads: list[str]) -> None:
    index = CaseIndex(notebook)
    assert len(reads) == 12
    reads.clear()
    age(write_note(notebook.root, case_number(5), make="Ostrel"))
    assert index.refresh() == RefreshReport(changed=1)
    assert CaseIndex(notebook).refresh() == RefreshReport()
    assert reads == [f"cases/2024/{case_number(5)}.md"]


def test_a_touched_note_is_read_once_and_not_indexed_again(notebook: Notebook, reads: list[str]) -> None:
    index = CaseIndex(notebook)
    before = index.snapshot()
    reads.clear()
    age(notebook.root / "cases/2024" / f"{case_number(5)}.md")
    assert index.refresh() == RefreshReport()
    assert index.refresh() == RefreshReport()
    assert len(reads) == 1
    assert index.snapshot().generation == before.generation


def test_many_touched_notes_are_not_read_again_by_the_next_process(
    notebook: Notebook, reads: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(search.index.case_index, "MANY_FRESH", 3)
    index = CaseIndex(notebook)
    before = content(index.snapshot())
    for number in range(5):
        age(notebook.root / "cases/2024" / f"{case_number(number)}.md")
    assert index.refresh().rebuilt
    assert content(index.snapshot()) == before
    reads.clear()
    CaseIndex(notebook)
    assert reads == []


def test_a_note_changed_again_within_a_tick_of_the_clock_is_seen(notebook: Notebook) -> None:
    path = write_note(notebook.root, "20250101-new0", make="Halvern")
    age(path, -5)  # as late as the reading or later: no clock can tell what came first
    index = CaseIndex(notebook)
    stamp = path.stat()
    write_note(notebook.root, "20250101-new0", make="Tressik")  # as long, and as old to the clock
    os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
    assert path.stat().st_size == stamp.st_size
    assert index.refresh() == RefreshReport(changed=1)
    assert found(index.snapshot(), "tressik") == ["20250101-new0"]


def test_small_changes_end_where_building_anew_does(notebook: Notebook) -> None:
    index = CaseIndex(notebook)
    dice = random.Random(5)
    for step in range(40):
        case = case_number(dice.randrange(20))
        path = notebook.root / "cases/2024" / f"{case}.md"
        if path.exists() and dice.random() < 0.4:
            path.unlink()
        else:
            age(
                write_note(notebook.root, case, root_cause=f"cause {dice.randrange(6)} in step {step}"),
                99 + step,
            )
        index.refresh()
        if step % 10 == 9:
            kept = content(index.snapshot())
            assert len(index.snapshot().segments.parts) <= 6
            assert kept == content(CaseIndex(notebook).snapshot())
            index.rebuild()
            assert kept == content(index.snapshot())


def test_a_refresh_of_one_note_looks_at_no_other(
    notebook: Notebook, reads: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    index = CaseIndex(notebook)
    reads.clear()
    write_note(notebook.root, "20250101-new0")
    changed = write_note(notebook.root, case_number(5), root_cause="moth in the relay")
    removed = f"cases/2024/{case_number(7)}.md"
    (notebook.root / removed).unlink()
    with monkeypatch.context() as sealed:
        sealed.delattr(Notebook, "scan")
        new = "cases/2025/20250101-new0.md"
        assert index.refresh(only=[new]) == RefreshReport(added=1)
        relpath = changed.relative_to(notebook.root).as_posix()
        assert index.refresh(only=[relpath, removed]) == RefreshReport(changed=1, removed=1)
        assert index.refresh(only=["families/hv-l2.md", "cases/2024/none.md"]) == RefreshReport()
    assert set(reads) == {new, relpath}
    assert found(index.snapshot(), "moth") == [case_number(5)]
    assert index.refresh() == RefreshReport()


def test_a_bad_note_is_found_by_its_words_and_hides_nothing(notebook: Notebook) -> None:
    path = notebook.root / "cases/2025/20250101-bad0.md"
    path.parent.mkdir()
    path.write_bytes(b"---\ncase: [\n---\nwhite smoke \xff from the transformerette\n")
    snapshot = CaseIndex(notebook).snapshot()
    row = snapshot.table.row_of["20250101-bad0"]
    assert found(snapshot, "transformerett") == ["20250101-bad0"]
    assert not snapshot.table.readable[row]
    assert snapshot.table.cause[row] == -1
    assert "white smoke" in snapshot.table.note(row).body
    assert len(snapshot.table.ids) == 13


def test_a_mended_note_is_whole_again(notebook: Notebook) -> None:
    path = notebook.root / f"cases/2024/{case_number(5)}.md"
    path.write_text("---\nnothing\n", encoding="utf-8")
    index = CaseIndex(notebook)
    assert not index.snapshot().table.readable.all()
    path.write_text(note_text(case_number(5)), encoding="utf-8")
    index.refresh()
    assert index.snapshot().table.readable[index.snapshot().table.alive].all()


def test_words_of_the_shops_own_rebuild_the_index(notebook: Notebook) -> None:
    index = CaseIndex(notebook)
    assert found(index.snapshot(), "=wandering fault") == []
    (notebook.root / "terms.toml").write_text(
        '[[group]]\nconcept = "wandering fault"\nkind = "symptom"\nphrases = ["since Tuesday"]\n',
        encoding="utf-8",
    )
    assert index.refresh() == RefreshReport(added=12, rebuilt=True)
    assert len(found(index.snapshot(), "=wandering fault")) == 12


def test_a_snapshot_stays_as_it_is(notebook: Notebook) -> None:
    index = CaseIndex(notebook)
    snapshot = index.snapshot()
    before = content(snapshot)
    for path in notebook.scan():
        (notebook.root / path).unlink()
    index.refresh()
    assert content(index.snapshot())["notes"] == []
    assert content(snapshot) == before


def test_another_index_takes_up_what_one_wrote(notebook: Notebook, reads: list[str]) -> None:
    first, second = CaseIndex(notebook), CaseIndex(notebook)
    write_note(notebook.root, "20250101-new0")
    first.refresh()
    reads.clear()
    assert second.snapshot().generation == first.snapshot().generation
    assert found(second.snapshot(), "markernew0") == ["20250101-new0"]
    assert reads == []


def test_building_tells_how_far_it_is(notebook: Notebook) -> None:
    told: list[tuple[int, int]] = []
    CaseIndex(notebook, progress=lambda done, total: told.append((done, total)))
    assert told == sorted(told)
    assert told[-1] == (12, 12)


def test_building_in_batches_gives_the_same_index(
    notebook: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = content(CaseIndex(notebook).snapshot())
    monkeypatch.setattr(search.index.case_index, "_BATCHES", 1)
    monkeypatch.setattr(search.index.analysis, "CHUNK", 5)
    index = CaseIndex(notebook)
    index.rebuild()
    assert len(index.snapshot().segments.parts) == 3
    assert content(index.snapshot()) == whole


def test_an_empty_notebook_has_an_empty_index(tmp_path: Path) -> None:
    (tmp_path / "cases").mkdir()
    index = CaseIndex(Notebook(tmp_path))
    assert index.snapshot().table.size == 0
    assert found(index.snapshot(), "dead") == []
    write_note(tmp_path, case_number(0))
    assert index.refresh() == RefreshReport(added=1)
    assert found(index.snapshot(), "markera000") == [case_number(0)]


def test_without_the_extra_there_are_no_vectors_and_with_it_again_there_are(
    notebook: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    with monkeypatch.context() as without:
        for module in (search.index.documents, search.index.segments):
            without.setattr(module, "load_meaning", lambda: None)
        assert CaseIndex(notebook).snapshot().vectors is None
    if search.index.documents.load_meaning() is not None:
        vectors = CaseIndex(notebook).snapshot().vectors
        assert vectors is not None
        assert [part.shape for part in vectors] == [(12, 384)]


def test_a_large_notebook_is_compared_by_words_and_a_smaller_one_by_sentences(
    notebook: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    def widths(index: CaseIndex) -> set[int]:
        return {part.shape[1] for part in index.snapshot().vectors or ()}

    monkeypatch.setattr(search.index.documents, "MOST_SENTENCES", 12)
    index = CaseIndex(notebook)
    assert widths(index) == {384}
    write_note(notebook.root, case_number(12))
    index.refresh()
    assert widths(index) == {256}
    assert widths(CaseIndex(notebook)) == {256}
    (notebook.root / "cases/2024" / f"{case_number(12)}.md").unlink()
    index.refresh()
    assert widths(index) == {384}


def test_index_of_sentences_is_built_anew_when_their_model_is_gone(
    notebook: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    CaseIndex(notebook)
    monkeypatch.setattr(search.index.documents, "load_sentences", lambda: None)
    vectors = CaseIndex(notebook).snapshot().vectors
    assert vectors is not None
    assert [part.shape for part in vectors] == [(12, 256)]


def damage(path: Path, dice: random.Random) -> None:
    """Spoil a file in one of the ways disks and people do."""
    data = bytearray(path.read_bytes())
    way = dice.choice(["flip", "flip", "truncate", "delete", "empty", "lengthen"])
    if way == "delete":
        path.unlink()
        return
    if way == "flip":
        for _ in range(dice.choice([1, 30])):
            data[dice.randrange(len(data))] ^= 1 << dice.randrange(8)
    elif way == "truncate":
        del data[dice.randrange(len(data)) :]
    elif way == "empty":
        data.clear()
    else:
        data += b"\0" * dice.randrange(1, 50)
    with path.open("r+b") as file:  # in place, as a failing disk would
        file.write(data)
        file.truncate()


def test_damage_changes_no_answer(notebook: Notebook) -> None:
    """Spoil index files 100 times, half of them while the index is open: every answer stays right."""
    index = CaseIndex(notebook)
    write_note(notebook.root, "20250101-new0")
    age(notebook.root / "cases/2025/20250101-new0.md")
    index.refresh()
    right, notes = content(index.snapshot()), notes_of(notebook)
    words = ("owner", "led", "markera003")
    hits = found(index.snapshot(), *words)
    dice = random.Random(2026)
    repaired = set()
    for number in range(100):
        files = files_of(notebook)
        for path in dice.sample(files, dice.choice([1, 1, 1, 2, len(files)])):
            repaired.add(path.suffix)
            damage(path, dice)
        if number % 2:
            index = CaseIndex(notebook)
        assert found(index.snapshot(), *words) == hits
        if number % 10 < 2:
            assert content(index.snapshot()) == right
            assert index.warning == ""
            # What lies on disk is sound again: another process opens it without reading a note.
            assert search.index.integrity.read_index(notebook.state_dir / "index").files
    assert repaired == {".json", ".toc", ".rows", ".trm", ".pst", ".col"}
    assert notes_of(notebook) == notes


def test_damage_while_open_is_put_right_on_disk(notebook: Notebook, reads: list[str]) -> None:
    index = CaseIndex(notebook)
    generation = index.snapshot().generation
    for path in files_of(notebook):
        path.unlink()
    assert index.snapshot().generation == generation
    reads.clear()
    assert CaseIndex(notebook).snapshot().generation == generation
    assert reads == []


def test_an_index_of_another_format_is_built_anew(
    notebook: Notebook, reads: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    CaseIndex(notebook)
    reads.clear()
    monkeypatch.setattr(search.index.integrity, "FORMAT", 0)
    assert len(found(CaseIndex(notebook).snapshot(), "owner")) == 12
    assert len(reads) == 12


def test_sound_files_that_whoosh_cannot_read_are_built_anew(notebook: Notebook) -> None:
    index = CaseIndex(notebook)
    folder = notebook.state_dir / "index"
    stored = search.index.integrity.read_index(folder)
    files = {name: b"of another world" for name in stored.files}
    search.index.integrity.write_index(folder, stored.facts, files)
    assert len(found(CaseIndex(notebook).snapshot(), "owner")) == 12
    assert len(found(index.snapshot(), "owner")) == 12


def test_a_full_disk_is_told_stops_nothing_and_is_used_again(
    notebook: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(path: Path, data: bytes) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as full:
        full.setattr(search.index.integrity, "write_file", refuse)
        index = CaseIndex(notebook)
        assert "No space left" in index.warning
        assert len(found(index.snapshot(), "owner")) == 12
        write_note(notebook.root, "20250101-new0")
        assert index.refresh() == RefreshReport(added=1)
        assert found(index.snapshot(), "markernew0") == ["20250101-new0"]
    write_note(notebook.root, "20250101-new1")
    index.refresh()
    assert index.warning == ""
    assert CaseIndex(notebook).snapshot().generation == index.snapshot().generation


def test_a_state_folder_that_is_a_file_is_told_and_stops_nothing(tmp_path: Path) -> None:
    notebook = small_notebook(tmp_path)
    (tmp_path / ".benchlore").write_text("in the way", encoding="utf-8")
    index = CaseIndex(notebook)
    assert "cannot be kept on disk" in index.warning
    assert len(found(index.snapshot(), "owner")) == 12
    assert index.refresh() == RefreshReport()


def test_a_notebook_taken_away_is_told_and_not_made_anew(notebook: Notebook, tmp_path: Path) -> None:
    index = CaseIndex(notebook)
    notebook.root.rename(tmp_path / "elsewhere")
    assert len(found(index.snapshot(), "owner")) == 12
    with pytest.raises(NotebookError):
        index.refresh()
    assert not notebook.root.exists()
    (tmp_path / "elsewhere").rename(notebook.root)
    write_note(notebook.root, "20250101-new0")
    assert index.refresh() == RefreshReport(added=1)
    assert index.warning == ""
    assert CaseIndex(notebook).snapshot().generation == index.snapshot().generation


def test_a_state_folder_deleted_meanwhile_is_made_again(notebook: Notebook, reads: list[str]) -> None:
    index = CaseIndex(notebook)
    shutil.rmtree(notebook.root / ".benchlore")
    generation = index.snapshot().generation
    assert index.warning == ""
    assert (notebook.root / ".benchlore/.gitignore").exists()
    reads.clear()
    assert CaseIndex(notebook).snapshot().generation == generation
    assert reads == []


def test_a_write_cut_short_leaves_the_index_as_it_was(
    notebook: Notebook, reads: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    index = CaseIndex(notebook)
    generation = index.snapshot().generation
    write = search.index.integrity.write_file

    def cut_short(path: Path, data: bytes) -> None:
        if path.name == MANIFEST:
            raise OSError(5, "Input/output error")
        write(path, data)

    write_note(notebook.root, "20250101-new0")
    with monkeypatch.context() as failing:
        failing.setattr(search.index.integrity, "write_file", cut_short)
        index.refresh()
    (notebook.root / "cases/2025/20250101-new0.md").unlink()
    reads.clear()
    assert CaseIndex(notebook).snapshot().generation == generation
    assert reads == []


def test_a_process_that_finds_the_index_locked_answers_all_the_same(
    notebook: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    busy, waiting = CaseIndex(notebook), CaseIndex(notebook)
    monkeypatch.setattr(search.index.case_index, "LOCK_WAIT_S", 0.01)
    write_note(notebook.root, "20250101-new0")
    with busy._disk.sole_writer(1.0) as sole:
        assert sole
        assert waiting.refresh() == RefreshReport(added=1)
        assert found(waiting.snapshot(), "markernew0") == ["20250101-new0"]
    busy.refresh()
    assert waiting.refresh() == RefreshReport()
    assert waiting.snapshot().generation == busy.snapshot().generation


def _save_notes(root: str, first: int, count: int) -> None:
    index = CaseIndex(Notebook(Path(root)))
    for number in range(first, first + count):
        case = f"20250202-{number:04d}"
        write_note(Path(root), case)
        index.refresh()
        if found(index.snapshot(), f"marker{number:04d}") != [case]:
            raise AssertionError(f"{case} was not found once it was saved")


def test_two_processes_write_one_index_and_lose_nothing(notebook: Notebook) -> None:
    context = multiprocessing.get_context("spawn")
    helpers = [
        context.Process(target=_save_notes, args=(str(notebook.root), first, 15)) for first in (0, 1000)
    ]
    for helper in helpers:
        helper.start()
    for helper in helpers:
        helper.join(60)
    assert [helper.exitcode for helper in helpers] == [0, 0]
    index = CaseIndex(notebook)
    wanted = [f"20250202-{first + number:04d}" for first in (0, 1000) for number in range(15)]
    assert sorted(case for case in living(index) if case.startswith("20250202")) == sorted(wanted)
    assert {path.name for path in files_of(notebook)} == {MANIFEST, *index.snapshot().segments.files}


def test_a_case_that_another_takes_in_meanwhile_stays(
    notebook: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    index, other = CaseIndex(notebook), CaseIndex(notebook)
    look = CaseIndex._look_at

    def look_too_early(self: CaseIndex, only: None) -> dict[str, FileStamp]:
        monkeypatch.setattr(CaseIndex, "_look_at", look)
        stamps = look(self, only)
        write_note(notebook.root, "20250101-meet")
        other.refresh()
        return stamps

    write_note(notebook.root, "20250101-own0")
    monkeypatch.setattr(CaseIndex, "_look_at", look_too_early)
    assert index.refresh().removed == 0
    assert "20250101-meet" in living(index)


def test_what_was_saved_or_taken_out_since_a_look_is_not_undone_by_it(notebook: Notebook) -> None:
    index = CaseIndex(notebook)
    stamps = index.look()
    write_note(notebook.root, "20250101-new0")
    paths = ["cases/2025/20250101-new0.md", f"cases/2024/{case_number(3)}.md"]
    (notebook.root / paths[1]).unlink()
    assert index.refresh(only=paths) == RefreshReport(added=1, removed=1)
    assert not index.refresh(scan=lambda: stamps)
    assert "20250101-new0" in living(index)
    assert case_number(3) not in living(index)


def test_a_large_notebook_can_be_opened_without_a_look(
    notebook: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    CaseIndex(notebook)
    write_note(notebook.root, "20250101-new0")
    assert "20250101-new0" in CaseIndex(notebook, look_later=True).snapshot().table.ids
    write_note(notebook.root, "20250101-new1")
    monkeypatch.setattr(search.index.case_index, "LARGE", 5)
    opened: list[CaseIndex] = []
    index = CaseIndex(notebook, look_later=True, meanwhile=opened.append)
    assert (opened, index.looked) == ([index], False)
    assert "20250101-new1" not in index.snapshot().table.ids
    assert index.refresh().added == 1
    monkeypatch.setattr(
        search.index.case_index, "facts_of", lambda vocabulary, notes: {"other": "words", "meaning": ""}
    )
    assert CaseIndex(notebook, look_later=True).looked  # nothing that lies there can be used


def test_threads_may_search_while_notes_are_saved(notebook: Notebook) -> None:
    index = CaseIndex(notebook)
    troubles: list[str] = []
    done = threading.Event()

    def search_on() -> None:
        while not done.is_set():
            for number in range(12):
                hits = found(index.snapshot(), f"markera{number:03d}", "owner")
                if hits[0] != case_number(number) or len(hits) < 12:
                    troubles.append(str(hits))

    threads = [threading.Thread(target=search_on) for _ in range(3)]
    for thread in threads:
        thread.start()
    for number in range(20):
        write_note(notebook.root, f"20250303-{number:04d}")
        index.refresh()
    done.set()
    for thread in threads:
        thread.join()
    assert troubles == []
