"""Goes in: columns of the case table. Comes out: what a family is known for, an overview, weak points."""
