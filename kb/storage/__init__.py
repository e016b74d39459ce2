"""Goes in: the fields or the text to save. Comes out: a file that is whole, and perhaps a git commit."""
