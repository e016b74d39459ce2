"""The text fields of a note that are searched; index, scorers and columns all follow this list."""

FIELDS = ("complaint", "cause", "fix", "body")
