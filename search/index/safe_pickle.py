"""Unpickle what an index holds, and nothing else.

A notebook may come from somebody else, its index with it, and a pickle can ask for any function to be
called. The digests of an index tell damage, not malice. So only the few types that an index is made of are
let in, here and in the modules of Whoosh that read its files, and nothing that asks for much more memory than
it takes on the disk.
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
        ("_codecs", "encode"),  # how bytes are spelled in the protocol that Whoosh uses
        ("builtins", "int"),
        ("collections", "defaultdict"),
        ("search.index.codec", "ArrayCodec"),
        ("whoosh.codec.whoosh3", "W3Codec"),  # an index by Whoosh alone, to compare with
        ("whoosh.codec.whoosh3", "W3Segment"),
    )
)


class _Unpickler(pickle._Unpickler):
    """The slow one: the quick one makes places for as many objects as it is told, at once."""

    def find_class(self, module: str, name: str) -> Any:
        if (module, name) not in _KNOWN:
            raise pickle.UnpicklingError(f"{module}.{name} is no part of an index")
        return getattr(importlib.import_module(module), name)


def load(file: IO[bytes]) -> Any:
    """Return what is pickled in a file. Raises: pickle.UnpicklingError for any type but those of an index."""
    return _Unpickler(file).load()


def loads(data: bytes) -> Any:
    """Return what is pickled in bytes. Raises: as load()."""
    return load(io.BytesIO(data))


def inflate(data: bytes, most: int) -> bytes:
    """Return bytes that zlib compressed. Raises: pickle.UnpicklingError when they are more than `most`."""
    stream = zlib.decompressobj()
    inflated = stream.decompress(data, most)
    if not stream.eof:
        raise pickle.UnpicklingError(f"cut short, or more than {most:,} bytes")
    return inflated


whoosh.codec.whoosh3.loads = loads
whoosh.filedb.structfile.load_pickle = load
