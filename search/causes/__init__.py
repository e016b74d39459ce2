"""Goes in: a complaint and past cases in numbers. Comes out: the odds of each cause, and of a new one."""
