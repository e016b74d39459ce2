"""Goes in: a notebook or a labelled list. Comes out: accuracy, log loss and calibration of the answers."""
