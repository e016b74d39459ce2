"""Goes in: a notebook or a labelled list. Comes out: how right, and how honest, the answers are."""
