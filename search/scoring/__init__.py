"""Goes in: a reading and a snapshot. Comes out: scores and features, one row a case."""
