"""Goes in: odds, plan and notes. Comes out: an Answer that the faces show."""
