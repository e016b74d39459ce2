"""Cases in from other people's tables, and out again.

Goes in: a CSV file or a notebook. Comes out: case notes or a table, with every rejected row named.
"""
