"""Unpickle what an index holds, and nothing else.

A notebook may come from somebody else, its index with it, and a pickle can ask for any function to be
called. The digests of an index tell damage, not malice. So only the few types that an index is made of are
let in, here and in the modules of Whoosh that read its files, and nothing that asks for much more memory than
it takes on the disk.
"""

from __future__ import annotations

import importlib
import io
import pickle
import re
import zlib
from typing import IO, Any

import whoosh.codec.whoosh3
import whoosh.filedb.structfile

_KNOWN = frozenset(
    (
        ("_codecs", "encode"),  # how bytes are spelled in the protocol that Whoosh uses
        ("builtins", "int"),
        ("collections", "defaultdict"),
        ("whoosh.codec.whoosh3", "W3Codec"),
        ("whoosh.codec.whoosh3", "W3Segment"),
    )
)


# Lists of numbers, as blocks of postings are: of all commands that a pickle can give, only these. Others are
# left to the slow reader, for the quick one makes places for as many objects as it is told, at once.
_NUMBERS_ONLY = re.compile(rb"\x80.(?:[]()Neat\x85-\x87]|K.|M..|J.{4}|G.{8}|q.|r..\0\0)*+\.", re.DOTALL)


def _known_type(unpickler: Any, module: str, name: str) -> Any:
    if (module, name) not in _KNOWN:
        raise pickle.UnpicklingError(f"{module}.{name} is no part of an index")
    return getattr(importlib.import_module(module), name)


class _Unpickler(pickle.Unpickler):
    find_class = _known_type


class _SlowUnpickler(pickle._Unpickler):
    find_class = _known_type


def load(file: IO[bytes]) -> Any:
    """Return what is pickled in a file. Raises: pickle.UnpicklingError for any type but those of an index."""
    return _SlowUnpickler(file).load()


def loads(data: bytes) -> Any:
    """Return what is pickled in bytes. Raises: as load()."""
    return (_Unpickler if _NUMBERS_ONLY.fullmatch(data) else _SlowUnpickler)(io.BytesIO(data)).load()


def inflate(data: bytes, most: int) -> bytes:
    """Return bytes that zlib compressed. Raises: pickle.UnpicklingError when they are more than `most`."""
    stream = zlib.decompressobj()
    inflated = stream.decompress(data, most)
    if not stream.eof:
        raise pickle.UnpicklingError(f"cut short, or more than {most:,} bytes")
    return inflated


whoosh.codec.whoosh3.loads = loads
whoosh.filedb.structfile.load_pickle = load
