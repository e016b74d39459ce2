"""Goes in: the notes of a notebook. Comes out: a Snapshot with Whoosh postings, columns and vectors."""
