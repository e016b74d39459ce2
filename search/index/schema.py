"""The text fields of a note that are searched; index, scorers and columns all follow this list."""

from __future__ import annotations

FIELDS = ("complaint", "cause", "fix", "body")
