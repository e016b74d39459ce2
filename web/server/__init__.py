"""Goes in: the open notebook. Comes out: access to it, errors in plain words, protection of writes."""
