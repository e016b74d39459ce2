"""What a note is: front matter in, typed and checked fields out, and back to text.

Goes in: the text of one markdown file. Comes out: a CaseNote or FamilyNote, or its problems by line.
"""
