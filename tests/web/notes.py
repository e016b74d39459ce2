"""What the tests of pages and JSON write: a case note, and where to."""

import re
from typing import Any

from flask import Flask

from kb.notes.case import CaseNote

# What a technician types into the form in a hurry; the family is found from the model.
TYPED = {
    "complaint": "kettle noise, then nothing at all",
    "symptom": "dead",
    "model": "HV-55L2X",
    "root_cause": "bridge rectifier shorted",
    "fix_time": "40",
    "outcome": "fixed",
    "date": "2026-07-01",
    "body": "BD801 went **short**.",
}


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


def writing_addresses(app: Flask) -> list[tuple[str, str]]:
    """Return every address of the application that takes a write, with its method."""
    found = []
    for rule in app.url_map.iter_rules():
        path = re.sub(r"<[^>]*>", "20260318-k7f2", rule.rule)
        methods = sorted((rule.methods or set()) & {"POST", "PUT", "PATCH", "DELETE"})
        found += [(method, path) for method in methods]
    return found
