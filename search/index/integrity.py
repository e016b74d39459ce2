"""Keep the index on disk, and verify every byte of it on reading.

The folder holds the index files, and a manifest with the size and digest of each. A new index is written
beside the old one and counts once the manifest is replaced: a reader sees the one or the other. Files are
read whole and verified; answers come from what was read, so later damage cannot change them.
"""

import contextlib
import errno
import functools
import hashlib
import json
import logging
import os
import re
import struct
import zlib
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Concatenate, ParamSpec, Protocol, TypeVar

import filelock

from kb.errors import BenchloreError
from kb.files import read_file

# Raise this when what is indexed, or how, changes: an index of another format is built anew.
FORMAT = 5
INDEX_FOLDER = "index"
LOCK_FILE = "index.lock"
MANIFEST = "manifest.json"
_FILE = re.compile(r"\w[\w.-]*")  # no file of another folder
# What damaged bytes can raise. Any other error, such as an AttributeError, is a mistake of the program.
_OF_DAMAGE = (ArithmeticError, EOFError, LookupError, OSError, ValueError, struct.error, zlib.error)
_LOG = logging.getLogger(__name__)
_READ_TRIES = 5  # a writer may replace the index while it is read, but hardly so often in a row

Signature = tuple[int, int, int, int]


class IndexDamageError(Exception):
    """The index on disk is missing, of another format, or not what was written."""


class Distrusting(Protocol):
    """Something that answers from an index which may have been read from disk."""

    def distrust(self) -> bool:
        """Build the index again if it was read from disk. Returns: True when another try is worth it."""


Asked = TypeVar("Asked", bound=Distrusting)
Given = ParamSpec("Given")
Answer = TypeVar("Answer")


def tried_again(
    ask: Callable[Concatenate[Asked, Given], Answer],
) -> Callable[Concatenate[Asked, Given], Answer]:
    """Ask a second time after an error that a damaged index may have caused."""

    @functools.wraps(ask)
    def attempt(asked: Asked, /, *args: Given.args, **kwargs: Given.kwargs) -> Answer:
        try:
            return ask(asked, *args, **kwargs)
        except BenchloreError:
            raise
        except _OF_DAMAGE:
            if not asked.distrust():
                raise
            _LOG.warning("asked again after an error that damage can cause", exc_info=True)
            return ask(asked, *args, **kwargs)

    return attempt


@dataclass(frozen=True, kw_only=True)
class Stored:
    """Hold an index as it lies on disk.

    facts: from what and how it was built, as JSON values. files: the verified content of each file.
    """

    facts: Mapping[str, Any]
    files: Mapping[str, bytes]
    digests: Mapping[str, str] = field(default_factory=dict)


def digest_of(data: bytes) -> str:
    """Return a BLAKE2b digest of 16 bytes in hexadecimal digits."""
    return hashlib.blake2b(data, digest_size=16).hexdigest()


def read_index(folder: Path, known: Stored | None = None) -> Stored:
    """Read the index in a folder and verify every byte of it.

    known: an index read before; files with an unchanged name and digest are taken from it.
    Raises: IndexDamageError.
    """
    last = b""
    for _ in range(_READ_TRIES):
        manifest = _read(folder / MANIFEST)
        try:
            return _read_files(folder, _open_manifest(manifest), known)
        except IndexDamageError:
            # Unless a writer has changed the manifest meanwhile, this is damage.
            if manifest == last:
                raise
            last = manifest
    raise IndexDamageError("the index changes too fast to be read")


def _read(path: Path) -> bytes:
    try:
        return read_file(path)
    except OSError as error:
        raise IndexDamageError(f"{path.name} cannot be read: {error.strerror}") from error


def _open_manifest(data: bytes) -> dict[str, Any]:
    """Return the manifest's content; its first line is the digest of the rest.

    Raises: IndexDamageError for any content that is wrong, as a digest shows damage, not who wrote it.
    """
    first, _, rest = data.partition(b"\n")
    if first.decode("latin-1") != digest_of(rest):
        raise IndexDamageError(f"{MANIFEST} is not what was written")
    try:
        content: dict[str, Any] = json.loads(rest)
        version, facts, files = content["format"], content["facts"], content["files"]
        sound = isinstance(facts, dict) and all(
            _FILE.fullmatch(name) and isinstance(digest, str) for name, digest in files.items()
        )
    except Exception as error:  # also RecursionError, for thousands of open brackets
        raise IndexDamageError(f"{MANIFEST} holds no index ({type(error).__name__})") from error
    if version != FORMAT:
        raise IndexDamageError(f"the index has format {version}, not {FORMAT}")
    if not sound:
        raise IndexDamageError(f"{MANIFEST} names what is no file of an index")
    return content


def _read_files(folder: Path, manifest: dict[str, Any], known: Stored | None) -> Stored:
    digests: Mapping[str, str] = manifest["files"]

    def read(name: str) -> bytes:
        if known is not None and known.digests.get(name) == digests[name]:
            return known.files[name]
        data = _read(folder / name)
        if digest_of(data) != digests[name]:
            raise IndexDamageError(f"{name} is not what was written")
        return data

    with ThreadPoolExecutor(os.cpu_count()) as pool:
        files = dict(zip(digests, pool.map(read, digests), strict=True))
    return Stored(facts=manifest["facts"], files=files, digests=digests)


def write_index(
    folder: Path, facts: Mapping[str, Any], files: Mapping[str, bytes], on_disk: Stored | None = None
) -> Stored:
    """Replace the index in a folder, and delete files that do not belong to it.

    on_disk: what lies in the folder undamaged; its files are not written again.
    The caller holds the lock of the index. Raises: OSError; the old index is then still whole.
    """
    if os.path.islink(folder):  # files are deleted from the folder below
        raise OSError(errno.ELOOP, "a link; delete it")
    folder.mkdir(exist_ok=True)  # without parents: an unplugged notebook must not be made anew, empty
    before = Stored(facts={}, files={}) if on_disk is None else on_disk
    digests: dict[str, str] = {}
    for name, data in files.items():
        if before.files.get(name) is data:
            digests[name] = before.digests[name]
        else:
            digests[name] = digest_of(data)
            write_file(folder / name, data)
    content = json.dumps({"format": FORMAT, "facts": facts, "files": digests}).encode()
    write_file(folder / MANIFEST, digest_of(content).encode() + b"\n" + content)
    for path in folder.iterdir():
        if path.name not in {MANIFEST, *digests}:
            with contextlib.suppress(OSError):
                path.unlink()
    return Stored(facts=facts, files=dict(files), digests=digests)


def write_file(path: Path, data: bytes) -> None:
    """Replace a file, whole or not at all. Raises: OSError."""
    # Not synced to the disk: after a power failure the digests differ, and the index is built from the notes.
    scratch = path.with_name(f"{path.name}.{os.getpid()}.new")
    try:
        scratch.unlink(missing_ok=True)
        with scratch.open("xb") as stream:  # never into something that exists, which may be a link
            stream.write(data)
        scratch.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            scratch.unlink(missing_ok=True)
        raise


class IndexFolder:
    """Look after the folder of the index in use.

    stored: what lies there, as far as is known undamaged; None while the index in use is not on disk.
    warning: why it is not, in a sentence, else "". damage: what was wrong when it was last read, else "".
    """

    def __init__(self, state_dir: Callable[[], Path]) -> None:
        """Take the folder in which the index folder lies: state_dir() returns it, and makes it if it can."""
        self.folder = state_dir() / INDEX_FOLDER
        self.stored: Stored | None = None
        self.warning = self.damage = ""
        self._state_dir = state_dir
        # A single lock object, so that its holder may take it again.
        self._lock = filelock.FileLock(state_dir() / LOCK_FILE)
        self._seen: dict[str, Signature | None] | None = None

    def has_news(self) -> bool:
        """Tell whether files have changed since they were last read or written."""
        return self._signatures() != self._seen

    def read(self) -> Stored | None:
        """Return the index in the folder, None when it is damaged or missing."""
        now, seen = self._signatures(), self._seen or {}
        known = self.stored and replace(
            self.stored,
            digests={name: each for name, each in self.stored.digests.items() if now[name] == seen.get(name)},
        )
        try:
            self.stored = read_index(self.folder, known)
        except IndexDamageError as error:
            self.stored = None
            self.damage = "" if isinstance(error.__cause__, FileNotFoundError) else str(error)
        # A file that changed while it was read keeps its older signature, so it counts as news next time.
        self._seen = {name: now.get(name, later) for name, later in self._signatures().items()}
        return self.stored

    def write(self, facts: Mapping[str, Any], files: Mapping[str, bytes]) -> None:
        """Write an index to the folder, or say in `warning` why that cannot be done."""
        unharmed = None if self.has_news() else self.stored
        try:
            self.stored = write_index(self.folder, facts, files, unharmed)
            self.warning = ""
        except OSError as error:
            self._warn(error)
            self.stored = None
        self._seen = self._signatures()

    def leave(self) -> None:
        """Remember that the index in use is no longer the one in the folder."""
        self.stored = None
        self._seen = self._signatures()

    @contextlib.contextmanager
    def sole_writer(self, wait_s: float) -> Iterator[bool]:
        """Keep other processes from writing meanwhile; yields False when they cannot be kept."""
        if not self._state_dir().is_dir():  # the lock would make it again for a notebook that is gone
            self._warn(FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT)))
            yield False
            return
        try:
            self._lock.acquire(timeout=wait_s)
        except OSError as error:  # filelock.Timeout is one
            if not isinstance(error, filelock.Timeout):
                self._warn(error)
            yield False
            return
        try:
            yield True
        finally:
            self._lock.release()

    def _warn(self, error: OSError) -> None:
        self.warning = (
            f"{self.folder}: the index cannot be kept on disk ({error.strerror or error}); "
            "mend that, or each start builds it again"
        )

    def _signatures(self) -> dict[str, Signature | None]:
        """Return inode, size and times of each file in use; None for one that is not there.

        One is the time of the last change of status, which, unlike the others, nobody can set back.
        """
        names = self.stored.digests if self.stored is not None else ()
        found: dict[str, Signature | None] = {}
        for name in (MANIFEST, *names):
            found[name] = None
            with contextlib.suppress(OSError):
                status = os.stat(self.folder / name)
                found[name] = (status.st_ino, status.st_size, status.st_mtime_ns, status.st_ctime_ns)
        return found
