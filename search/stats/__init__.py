"""Goes in: arrays. Comes out: intervals and survival curves."""
