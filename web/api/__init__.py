"""Goes in: a request of a program. Comes out: JSON."""
