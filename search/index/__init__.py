"""Goes in: the notes of a notebook. Comes out: a Snapshot: Whoosh postings, columns and vectors."""
