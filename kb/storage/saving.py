"""Write files so that each is on the disk whole or not at all.

A file is written under another name in its own folder, flushed to the disk, then renamed over the old one,
and the folder is flushed too. All writers of one notebook, threads and processes, take turns under one lock.
"""

import contextlib
import errno
import os
from collections.abc import Callable, Iterator, Mapping
from itertools import product
from pathlib import Path

from filelock import FileLock, Timeout

from kb.errors import BenchloreError
from kb.notebook import Notebook, linked_folder

LOCK_WAIT_S = 30.0  # chosen by us: a save takes milliseconds, so a longer wait means a program that hangs
# Every save uses this name, as only one writer works at a time. A file left over from a stopped writer is
# overwritten by the next save. The name does not end in .md, so it is never taken for a note.
TEMPORARY_NAME = ".benchlore-saving.tmp"

_NOT_ALLOWED = "you may not write there; change the folder's permissions and save again"
_REMEDIES = {
    errno.ENOSPC: "the disk is full; free some space and save again",
    errno.EDQUOT: "your share of the disk is full; free some space and save again",
    errno.EROFS: "the disk can only be read; make it writable and save again",
    errno.EACCES: _NOT_ALLOWED,
    errno.EPERM: _NOT_ALLOWED,
    errno.ENOENT: "the folder is gone; put the notebook back and save again",
    errno.ENAMETOOLONG: "the name is too long for a file; choose a shorter one",
    errno.EIO: "the disk reports an error; check the disk before saving again",
}


class WriteError(BenchloreError):
    """Nothing was written; the message says why."""


@contextlib.contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn the system's errors into a WriteError that says in plain words what is wrong with a path."""
    try:
        yield
    except (OSError, NotImplementedError) as error:
        said = getattr(error, "strerror", "") or str(error)
        remedy = _REMEDIES.get(getattr(error, "errno", 0), f"{said}; mend that and save again")
        raise WriteError(f"{path}: not saved, {remedy}") from error


@contextlib.contextmanager
def locked(notebook: Notebook) -> Iterator[None]:
    """Hold the lock that all writers share. Raises: WriteError when it stays taken, or the folder is gone."""
    require_root(notebook)
    path = notebook.state_dir / "write.lock"
    with plain_errors(path):
        try:
            held = FileLock(path).acquire(timeout=LOCK_WAIT_S, poll_interval=0.005)
        except Timeout:
            busy = f"another program has held the notebook for {LOCK_WAIT_S:.0f} s; end it and save again"
            raise WriteError(f"{path}: not saved, {busy}") from None
    with held:
        yield


def require_root(notebook: Notebook) -> None:
    """Refuse to write to a notebook that is gone, which would make a new one. Raises: WriteError."""
    if not os.path.isdir(notebook.root):
        raise WriteError(f"{notebook.root}: the folder is gone; put the notebook back and save again")
    if linked := linked_folder(notebook.root):
        raise _link_error(linked)


def replace_files(files: Mapping[Path, bytes]) -> None:
    """Replace many files with one wait for the disk: write all, flush all, rename all. Needs the lock.

    Makes missing folders. A file gets its name only when its bytes are safe. Raises: WriteError; files
    renamed by then stay.
    """
    for folder in {path.parent for path in files}:
        make_folder(folder)
    real = {path: Path(os.path.realpath(path)) for path in files}
    aside = {path: real[path].with_name(f"{TEMPORARY_NAME}{n or ''}") for n, path in enumerate(files)}
    steps: tuple[Callable[[Path], None], ...] = (
        lambda path: _write(aside[path], files[path], like=real[path]),
        lambda path: _flush(aside[path]),
        lambda path: os.replace(aside[path], real[path]),
    )
    try:
        for step, path in product(steps, files):
            with plain_errors(path):
                step(path)
    except WriteError:
        for temporary in aside.values():
            with contextlib.suppress(OSError):
                temporary.unlink()
        raise
    for folder in sorted({target.parent for target in real.values()}):
        flush_folder(folder)


def clear_leftovers(notebook: Notebook) -> None:
    """Delete the temporary files of stopped writers. Needs the lock, so that no writer is at work."""
    for leftover in notebook.root.glob(f"cases/*/{TEMPORARY_NAME}*"):
        with contextlib.suppress(OSError):
            leftover.unlink()


def make_folder(path: Path) -> None:
    """Make a folder and those above it, each flushed to the disk. Raises: WriteError."""
    if os.path.islink(path):  # notes behind a link are not read either
        raise _link_error(path)
    for folder in reversed([folder for folder in (path, *path.parents) if not folder.exists()]):
        with plain_errors(folder):
            folder.mkdir(exist_ok=True)
        flush_folder(folder.parent)


def move_file(source: Path, target: Path) -> None:
    """Move a file within the notebook in one step. Needs the lock."""
    make_folder(target.parent)
    with plain_errors(source):
        os.rename(source, target)
    flush_folder(target.parent)
    flush_folder(source.parent)


def flush_folder(folder: Path) -> None:
    """Flush a folder's list of names to the disk. Raises: WriteError."""
    with plain_errors(folder):
        try:
            _flush(folder)
        except OSError as error:
            # Some network disks cannot flush a folder; their server does that itself.
            if error.errno not in (errno.EINVAL, errno.ENOTSUP):
                raise


def _link_error(path: Path) -> WriteError:
    return WriteError(f"{path}: not saved, this is a link; put the folder itself there and save again")


def _flush(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _write(path: Path, data: bytes, *, like: Path) -> None:
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | getattr(os, "O_NOFOLLOW", 0), 0o666)
    with os.fdopen(handle, "wb") as stream:
        stream.write(data)
        stream.flush()
        with contextlib.suppress(FileNotFoundError):
            old = like.stat()
            os.fchmod(stream.fileno(), old.st_mode & 0o7777)
            new = os.fstat(stream.fileno())
            if (new.st_size, new.st_mtime_ns) == (old.st_size, old.st_mtime_ns):
                # The index notices changes by size and time: two saves within one clock tick must differ.
                os.utime(stream.fileno(), ns=(new.st_atime_ns, old.st_mtime_ns + 1))
