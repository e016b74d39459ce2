"""Goes in: arrays. Comes out: intervals, survival curves, folds."""
