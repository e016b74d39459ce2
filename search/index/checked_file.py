"""Files of figures below a line of JSON, which are used only as they were written."""

import contextlib
import json
from pathlib import Path

from kb.files import read_file
from search.index.integrity import digest_of, write_file


def write_checked(path: Path, head: object, numbers: bytes) -> None:
    """Write a line of digest, one of JSON, then numbers; a folder that takes nothing is no error."""
    data = json.dumps(head).encode() + b"\n" + numbers
    with contextlib.suppress(OSError):
        write_file(path, digest_of(data).encode() + b"\n" + data)


def read_checked(path: Path, *, most: int) -> tuple[bytes, bytes]:
    """Return the JSON of a file and its numbers, at most so many bytes. Raises: OSError, ValueError."""
    digest, _, data = read_file(path, most=most).partition(b"\n")
    if digest.decode("latin-1") != digest_of(data):
        raise ValueError(f"{path.name} is not what was written")
    head, _, numbers = data.partition(b"\n")
    return head, numbers
