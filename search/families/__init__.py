"""Goes in: the case table. Comes out: what a family is known for, an overview, and weak points."""
