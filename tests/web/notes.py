"""Case notes for tests, with only what a test is about spelled out."""

from typing import Any

from kb.notes.case import CaseNote


def a_note(**fields: Any) -> CaseNote:
    """Return a good case note; fields are front matter keys."""
    plain = {
        "date": "2026-06-21",
        "device": "washing machine",
        "model": "TW-7W2",
        "chassis_family": "TN-W2",
        "complaint": "does not drain and smells of burning",
        "symptom": ["does not drain"],
        "root_cause": "drain pump jammed",
        "fix_time": "25 min",
        "outcome": "fixed",
    }
    return CaseNote.from_fields({**plain, **fields})
