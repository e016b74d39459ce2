"""Turn similar past cases into the odds of each cause.

Goes in: features of the complaint and of past cases. Comes out: a probability for each cause, and one for
none of them.
"""
