"""Measure how good the answers are.

Goes in: a notebook or a labelled list. Comes out: accuracy, log loss and calibration.
"""
