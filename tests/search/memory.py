"""Whoosh's storage in memory, for indexes that Whoosh itself writes and searches."""

from whoosh.filedb.filestore import RamStorage


class OwnMemory(RamStorage):
    """Keep temporary files in memory too: Whoosh's own go to one folder that all processes share."""

    def temp_storage(self, name: str | None = None) -> RamStorage:
        return RamStorage()
