"""The family note's form."""

from __future__ import annotations

from kb.notes.family import FamilyNote
from web.forms.note_form import NoteForm

FAMILY_FORM = NoteForm(
    kind=FamilyNote,
    headings={
        "chassis_family": "Family",
        "device": "Device",
        "make": "Make",
        "models": "Models",
        "opening_time": "Time to open and close it",
        "before_power": "Before power",
        "tell_owner": "Tell the owner",
        "while_open": "While it is open",
        "caution": "Cautions",
        "blink_meaning": "What the service sheet says of its blinks",
        "boards": "Boards",
    },
    lists=frozenset({"models", "boards", "caution"}),
    lines=frozenset({"before_power", "tell_owner", "while_open"}),  # sentences have commas of their own
    pairs=frozenset({"blink_meaning"}),
    template="family_form.html",
)
