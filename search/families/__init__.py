"""What a chassis family is known for.

Goes in: the columns of the case table. Comes out: figures for one family, an overview, weak points.
"""
