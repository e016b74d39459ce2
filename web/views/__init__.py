"""Goes in: an answer or figures. Comes out: words, drawings and lines for pages and terminal."""
