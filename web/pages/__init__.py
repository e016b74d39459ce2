"""Goes in: a request. Comes out: HTML. One module for the pages of one thing."""
