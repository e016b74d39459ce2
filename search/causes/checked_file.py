"""Files of a digest, a line of JSON and numbers; a file that has changed since it was written is refused."""

import contextlib
import json
from pathlib import Path

from kb.files import read_file
from search.index.integrity import digest_of, write_file


def write_checked(path: Path, head: object, numbers: bytes) -> None:
    """Write a line with the digest, a line of JSON, then numbers; an unwritable folder is no error."""
    data = json.dumps(head).encode() + b"\n" + numbers
    with contextlib.suppress(OSError):
        write_file(path, digest_of(data).encode() + b"\n" + data)


def read_checked(path: Path, *, most: int) -> tuple[bytes, bytes]:
    """Return the JSON and the numbers of a file, of at most `most` bytes. Raises: OSError, ValueError."""
    digest, _, data = read_file(path, most=most).partition(b"\n")
    if digest.decode("latin-1") != digest_of(data):
        raise ValueError(f"{path.name} is not what was written")
    head, _, numbers = data.partition(b"\n")
    return head, numbers
