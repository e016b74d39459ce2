"""Goes in: odds, checks and notes. Comes out: an Answer for pages, JSON and terminal."""
