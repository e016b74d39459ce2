"""Unpickle what an index holds, and nothing else.

A notebook may come from somebody else, its index with it, and a pickle can ask for any function to be
called. The digests of an index tell damage, not malice. So only the few types that an index is made of are
let in, here and in the modules of Whoosh that read its files.
"""

from __future__ import annotations

import io
import pickle
from typing import IO, Any

import whoosh.codec.whoosh3
import whoosh.filedb.structfile

_KNOWN = frozenset(
    (
        ("_codecs", "encode"),  # how bytes are spelled in the protocol that Whoosh uses
        ("builtins", "int"),
        ("collections", "defaultdict"),
        ("datetime", "date"),
        ("kb.notes.blinks", "BlinkPattern"),
        ("kb.notes.blinks", "Group"),
        ("kb.notes.case", "Outcome"),
        ("whoosh.codec.whoosh3", "W3Codec"),
        ("whoosh.codec.whoosh3", "W3Segment"),
    )
)


class _Unpickler(pickle.Unpickler):
    def find_class(self, module: str, name: str) -> Any:
        if (module, name) not in _KNOWN:
            raise pickle.UnpicklingError(f"{module}.{name} is no part of an index")
        return super().find_class(module, name)


def load(file: IO[bytes]) -> Any:
    """Return what is pickled in a file. Raises: pickle.UnpicklingError for any type but those of an index."""
    return _Unpickler(file).load()


def loads(data: bytes) -> Any:
    """Return what is pickled in bytes. Raises: as load()."""
    return _Unpickler(io.BytesIO(data)).load()


whoosh.codec.whoosh3.loads = loads
whoosh.filedb.structfile.load_pickle = load
