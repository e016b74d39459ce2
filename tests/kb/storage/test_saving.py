"""What goes wrong with disks and programs: a clear message, nothing lost, and it works again afterwards."""

import contextlib
import errno
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Self

import pytest
from filelock import FileLock

from kb.notebook import Notebook
from kb.notes.case import CaseNote
from kb.storage import saving
from kb.storage.saving import WriteError
from kb.storage.writing import digest, remove_case, revise_note, save_new_case
from tests.kb.made_up_notes import CASE_PATH, CASE_TEXT, empty_notebook, new_case, put

NOBODY = 65534
ROOT = Path(__file__).parents[3]

# A program that saves notes and says which are safe, one number a line, each after save_new_case returned.
WRITER = """
import sys
from pathlib import Path
from typing import Self
from kb.notes.case import CaseNote
from kb.notebook import Notebook
from kb.storage.writing import digest, revise_note, save_new_case
from concurrent.futures import ThreadPoolExecutor

nb = Notebook(Path(sys.argv[1]))
threads, saves, revise = (int(word) for word in sys.argv[2:])

def write(thread):
    for number in range(saves):
        note = CaseNote.from_fields({"date": "2026-03-18", "device": "LED TV", "chassis_family": "HV-L2",
            "symptom": ["dead"], "root_cause": f"cause {thread} {number}", "fix_time": 5, "outcome": "fixed",
            "body": "measured twice " * 400})
        case = save_new_case(nb, note).case
        if revise:
            path = nb.case_path(case)
            revise_note(nb, path, {"tech": "RK"}, body=None, expect=digest(nb.read_bytes(path)))
        sys.stdout.write(case + "\\n")
        sys.stdout.flush()

with ThreadPoolExecutor(threads) as pool:
    list(pool.map(write, range(threads)))
"""


def start_writer(nb: Notebook, *, threads: int, saves: int, revise: bool) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", WRITER, str(nb.root), str(threads), str(saves), str(int(revise))]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)


def read_all(nb: Notebook) -> dict[str, str]:
    """Read every note there is, and give its cause by its number; a note that is not whole raises."""
    return {note.case: note.root_cause for note in map(nb.read_case, nb.scan())}


def test_eight_writers_in_two_processes_lose_and_double_nothing(nb: Notebook) -> None:
    writers = [start_writer(nb, threads=4, saves=20, revise=False) for _ in range(2)]
    acknowledged = [case for writer in writers for case in writer.communicate()[0].split()]
    assert [writer.returncode for writer in writers] == [0, 0]
    notes = read_all(nb)
    assert len(acknowledged) == len(set(acknowledged)) == 160
    assert set(notes) == set(acknowledged)
    wanted = sorted(f"cause {thread} {number}" for thread in range(4) for number in range(20)) * 2
    assert sorted(notes.values()) == sorted(wanted)


def test_killed_writers_lose_no_acknowledged_case_and_leave_no_half_note(nb: Notebook) -> None:
    chance = random.Random(20260318)
    acknowledged: set[str] = set()
    stop = threading.Event()
    torn: list[str] = []
    killed = 0

    def watch() -> None:
        while not stop.is_set():
            for relpath in nb.scan():
                text = nb.read_bytes(relpath).decode("utf-8")
                try:
                    CaseNote.parse(text, file=relpath)
                except Exception:
                    torn.append(relpath)

    watcher = threading.Thread(target=watch)
    watcher.start()
    try:
        while len(acknowledged) < 150:
            writers = [start_writer(nb, threads=1, saves=1000, revise=True) for _ in range(3)]
            # Killed after so many acknowledged saves, wherever the next one happens to be.
            for writer in writers:
                assert writer.stdout is not None
                for _ in range(chance.randint(5, 40)):
                    acknowledged.add(writer.stdout.readline().strip())
                os.kill(writer.pid, signal.SIGKILL)
                killed += 1
                acknowledged.update(line.strip() for line in writer.stdout if line.endswith("\n"))
                writer.wait()
                writer.stdout.close()
    finally:
        stop.set()
        watcher.join()
    assert torn == []
    notes = read_all(nb)
    assert acknowledged <= set(notes)
    assert (
        len(notes) <= len(acknowledged) + killed
    )  # at most one note of each killed writer is unacknowledged
    assert all("tech: RK" in nb.read_bytes(f"cases/2026/{case}.md").decode("utf-8") for case in acknowledged)
    save_new_case(nb, new_case())
    assert [path.name for path in (nb.root / "cases/2026").iterdir() if path.suffix != ".md"] == []


FAILURES = [
    pytest.param(errno.ENOSPC, "the disk is full; free some space", id="disk-full"),
    pytest.param(errno.EDQUOT, "your share of the disk is full", id="quota"),
    pytest.param(errno.EROFS, "the disk can only be read", id="read-only-disk"),
    pytest.param(errno.EACCES, "you may not write there", id="read-only-folder"),
    pytest.param(errno.EIO, "the disk reports an error", id="bad-disk"),
]


def failing(real: Callable[..., object], number: int, *, on: Callable[..., bool]) -> Callable[..., object]:
    def fail(*arguments: object, **named: object) -> object:
        if on(*arguments):
            raise OSError(number, os.strerror(number))
        return real(*arguments, **named)

    return fail


def is_note(path: object, *others: object) -> bool:
    if others and isinstance(others[0], int) and not others[0] & os.O_WRONLY:
        return False  # opened to be read
    return ".benchlore-saving" in str(path) or str(path).endswith(".md")


def everything(nb: Notebook) -> dict[str, bytes]:
    return {
        path.relative_to(nb.root).as_posix(): path.read_bytes()
        for top in ("cases", "families")
        for path in (nb.root / top).rglob("*")
        if path.is_file()
    }


@pytest.mark.parametrize(("number", "said"), FAILURES)
@pytest.mark.parametrize("call", ["open", "fsync", "replace"])
def test_failing_disk_is_told_and_nothing_is_half_written(
    nb: Notebook, monkeypatch: pytest.MonkeyPatch, number: int, said: str, call: str
) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    before = everything(nb)
    opened = digest(nb.read_bytes(CASE_PATH))
    with monkeypatch.context() as broken:
        on = (lambda *_: True) if call == "fsync" else is_note
        broken.setattr(saving.os, call, failing(getattr(os, call), number, on=on))
        with pytest.raises(WriteError, match=said):
            save_new_case(nb, new_case())
        with pytest.raises(WriteError, match=said):
            revise_note(nb, CASE_PATH, {"tech": "JS"}, body=None, expect=opened)
    assert everything(nb) == before
    revise_note(nb, CASE_PATH, {"tech": "JS"}, body=None, expect=opened)
    save_new_case(nb, new_case())
    assert len(read_all(nb)) == 2


def test_disk_full_in_the_middle_of_a_note_leaves_the_old_one(
    nb: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    before = everything(nb)
    real = os.fdopen

    def half(handle: int, mode: str) -> object:
        stream = real(handle, mode)
        if mode == "rb":
            return stream
        write = stream.write

        def write_half(data: bytes) -> int:
            write(data[: len(data) // 2])
            stream.flush()
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        class Half:
            def __enter__(self) -> Self:
                return self

            def __exit__(self, *error: object) -> None:
                stream.close()

        result = Half()
        result.write = write_half  # type: ignore[attr-defined]
        return result

    with monkeypatch.context() as broken:
        broken.setattr(saving.os, "fdopen", half)
        with pytest.raises(WriteError, match="the disk is full"):
            save_new_case(nb, new_case())
        with pytest.raises(WriteError, match="the disk is full"):
            revise_note(nb, CASE_PATH, {"tech": "JS"}, body=None, expect=digest(nb.read_bytes(CASE_PATH)))
    assert everything(nb) == before


def test_folder_that_cannot_be_flushed_does_not_leave_a_note_called_unsaved(
    nb: Notebook, monkeypatch: pytest.MonkeyPatch
) -> None:
    (nb.root / "cases/2026").mkdir()
    with monkeypatch.context() as broken:

        def fail(folder: Path) -> None:
            with saving.plain_errors(folder):
                raise OSError(errno.EIO, "Input/output error")

        broken.setattr(saving, "flush_folder", fail)
        with pytest.raises(WriteError, match="not saved"):
            save_new_case(nb, new_case())
    assert nb.scan() == {}


@contextlib.contextmanager
def as_ordinary_user(folder: Path) -> Iterator[None]:
    """Do without root's right to write everywhere, when the tests run as root. folder: given to that user."""
    if os.geteuid() != 0:
        yield
        return
    for path in (folder, *folder.rglob("*")):
        os.chown(path, NOBODY, NOBODY)
    os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(0)


def test_folder_without_permission_is_told() -> None:
    with tempfile.TemporaryDirectory() as outer:  # every folder above must be open to an ordinary user
        Path(outer).chmod(0o755)
        nb = empty_notebook(Path(outer) / "bench")
        put(nb, CASE_PATH, CASE_TEXT)
        assert nb.state_dir.is_dir()
        year = nb.root / "cases/2026"
        with as_ordinary_user(nb.root):
            year.chmod(0o555)
            with pytest.raises(WriteError, match="you may not write there"):
                save_new_case(nb, new_case())
            year.chmod(0o755)
            nb.root.chmod(0)
            with pytest.raises(WriteError, match="you may not write there"):
                save_new_case(nb, new_case())
            nb.root.chmod(0o755)
            assert save_new_case(nb, new_case()).case
        assert len(read_all(nb)) == 2


def test_folder_removed_while_running_is_told_and_not_made_anew(nb: Notebook) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    opened = digest(nb.read_bytes(CASE_PATH))
    kept = nb.root.with_name("kept")
    shutil.move(nb.root, kept)
    for attempt in (
        lambda: save_new_case(nb, new_case()),
        lambda: revise_note(nb, CASE_PATH, {"tech": "JS"}, body=None, expect=opened),
        lambda: remove_case(nb, "20260318-k7f2"),
    ):
        with pytest.raises(WriteError, match="the folder is gone; put the notebook back"):
            attempt()
    assert not nb.root.exists()
    shutil.move(kept, nb.root)
    revise_note(nb, CASE_PATH, {"tech": "JS"}, body=None, expect=opened)
    assert nb.read_case(CASE_PATH).tech == "JS"


def test_cases_folder_removed_while_running_is_made_anew(nb: Notebook) -> None:
    shutil.rmtree(nb.root / "cases")
    shutil.rmtree(nb.state_dir)
    assert len(read_all(nb)) == 0
    save_new_case(nb, new_case())
    assert len(read_all(nb)) == 1


def test_hanging_program_is_told(nb: Notebook, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(saving, "LOCK_WAIT_S", 0.0)
    with FileLock(nb.state_dir / "write.lock"):
        failures: list[WriteError] = []

        def save() -> None:
            try:
                save_new_case(nb, new_case())
            except WriteError as error:
                failures.append(error)

        thread = threading.Thread(target=save)
        thread.start()
        thread.join()
    assert ["another program has held the notebook" in str(error) for error in failures] == [True]
    assert save_new_case(nb, new_case()).case
