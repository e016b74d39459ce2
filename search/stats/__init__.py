"""Statistics that several stages share.

Goes in: arrays. Comes out: intervals, survival curves, folds.
"""
