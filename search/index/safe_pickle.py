"""Unpickle what an index holds, and nothing else.

A stranger's notebook may bring its index along, a pickle can call any function, and digests show damage but
not malice. So only the few types that an index is made of are let in, here and in the modules of Whoosh that
read its files, and nothing that asks for much more memory than it takes on the disk.
"""

import importlib
import io
import pickle
import zlib
from typing import IO, Any

import whoosh.codec.whoosh3
import whoosh.filedb.structfile

_KNOWN = frozenset(
    (
        ("_codecs", "encode"),  # how the protocol that Whoosh uses writes bytes
        ("builtins", "int"),
        ("collections", "defaultdict"),
        ("search.index.codec", "ArrayCodec"),
        ("whoosh.codec.whoosh3", "W3Codec"),  # of an index by Whoosh alone, for comparison
        ("whoosh.codec.whoosh3", "W3Segment"),
    )
)


class _Unpickler(pickle._Unpickler):
    """Python's slow unpickler. The fast one reserves memory for as many objects as a file claims to hold."""

    def find_class(self, module: str, name: str) -> Any:
        if (module, name) not in _KNOWN:
            raise pickle.UnpicklingError(f"{module}.{name} is not a type that an index holds")
        return getattr(importlib.import_module(module), name)


def load(file: IO[bytes]) -> Any:
    """Unpickle a file. Raises: pickle.UnpicklingError for types that an index does not hold."""
    return _Unpickler(file).load()


def loads(data: bytes) -> Any:
    """Unpickle bytes. Raises: as load()."""
    return load(io.BytesIO(data))


def inflate(data: bytes, most: int) -> bytes:
    """Decompress zlib bytes. Raises: pickle.UnpicklingError when the result has more than `most` bytes."""
    stream = zlib.decompressobj()
    inflated = stream.decompress(data, most)
    if not stream.eof:
        raise pickle.UnpicklingError(f"cut short, or more than {most:,} bytes")
    return inflated


whoosh.codec.whoosh3.loads = loads
whoosh.filedb.structfile.load_pickle = load
