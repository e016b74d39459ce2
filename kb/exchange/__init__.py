"""Goes in: somebody's table, or a notebook. Comes out: case notes, each rejected row named; or a table."""
