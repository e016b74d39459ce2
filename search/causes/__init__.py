"""Goes in: features of a complaint and of past cases. Comes out: the odds of each cause, and of none."""
