"""Goes in: a note, or what was typed. Comes out: the boxes of a form, or the fields of a note."""
