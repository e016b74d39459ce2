"""Read files that somebody else may have put there, and write files that nobody else may read."""

import errno
import os
import stat
from pathlib import Path

# Opening must neither block on a pipe nor take over a terminal; 0 where a system lacks the flag.
_FLAGS = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOCTTY", 0) | getattr(os, "O_BINARY", 0)
_NO_LINK = getattr(os, "O_NOFOLLOW", 0)


def read_file(path: Path, *, within: Path | None = None, most: int = -1) -> bytes:
    """Return a plain file's bytes.

    within: the folder that a link may not lead out of; None for no links at all.
    most: read no more than so many bytes; -1 for all.
    Raises: OSError, also for a pipe, a device, a folder, and a link that may not be followed.
    """
    try:
        handle = os.open(path, _FLAGS | _NO_LINK)
    except OSError as error:
        if error.errno != errno.ELOOP or within is None:
            raise
        target = Path(os.path.realpath(path))
        if not target.is_relative_to(os.path.realpath(within)):
            raise OSError(errno.ELOOP, "a link that leads out of the notebook", str(path)) from None
        handle = os.open(target, _FLAGS | _NO_LINK)
    with os.fdopen(handle, "rb") as stream:
        if not stat.S_ISREG(os.fstat(handle).st_mode):
            raise OSError(errno.EINVAL, "not a plain file", str(path))
        return stream.read(most)


def write_private(path: Path, text: str) -> None:
    """Write one line of ASCII to a new file that its owner alone may read. Raises: OSError if it exists."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "w", encoding="ascii") as stream:
        stream.write(text + "\n")
