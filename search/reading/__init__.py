"""Goes in: an owner's words. Comes out: a Reading with words, concepts, blinks, make, model and family."""
