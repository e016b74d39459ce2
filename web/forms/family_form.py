"""The family note's form."""

from kb.notes.family import FAMILY_FIELDS, FamilyNote
from web.forms.fields import label
from web.forms.note_form import NoteForm

FAMILY_FORM = NoteForm(
    kind=FamilyNote,
    headings={name: label(name) for name in FAMILY_FIELDS},
    lists=frozenset({"models", "boards", "caution"}),
    lines=frozenset({"before_power", "tell_owner", "while_open"}),  # sentences have commas of their own
    pairs=frozenset({"blink_meaning"}),
    template="family_form.html",
)
