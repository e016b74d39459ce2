"""Goes in: a request. Comes out: HTML. A module has the pages of one thing."""
