"""Goes in: arrays. Comes out: intervals and comeback rates."""
