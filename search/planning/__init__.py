"""Goes in: the odds of the causes. Comes out: an order of checks, the bench time to expect, and a price."""
