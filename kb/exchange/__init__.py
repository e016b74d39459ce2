"""Goes in: a table. Comes out: case notes, and rejected rows with the reason. Export goes the other way."""
