"""Goes in: the text of one markdown file. Comes out: a CaseNote or FamilyNote, or its problems by line."""
