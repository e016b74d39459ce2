"""A set that came back: what was found then beside what was found now."""

from dataclasses import dataclass

from kb.notes.case import CaseNote
from web.forms.fields import case_as_json, label, say_value

COMPARED = (
    "date", "model", "complaint", "symptom", "blinks", "root_cause", "board", "check", "fix", "parts",
    "proof", "outcome", "tech",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Compared:
    """One field of two cases; same: both say it, in the same words."""

    heading: str
    earlier: str
    now: str
    same: bool


def compare(earlier: CaseNote, now: CaseNote) -> list[Compared]:
    """Return the fields that either case fills in, in the order in which a technician asks."""
    then, here = case_as_json(earlier), case_as_json(now)
    rows = [(label(name), say_value(then[name]), say_value(here[name])) for name in COMPARED]
    return [
        Compared(heading=heading, earlier=before, now=after, same=before.casefold() == after.casefold())
        for heading, before, after in rows
        if before or after
    ]
