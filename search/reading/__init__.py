"""Goes in: an owner's words. Comes out: a Reading: words, concepts, blinks, make, model and family."""
