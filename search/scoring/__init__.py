"""Goes in: a reading and a snapshot. Comes out: scores of all cases, and features."""
