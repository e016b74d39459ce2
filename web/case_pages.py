"""One finished repair: cautions first, then every field and the technician's own words."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, abort, render_template
from markupsafe import Markup

from kb.case import CaseNote
from kb.errors import NoteError
from kb.rendering import render_markdown
from kb.writing import digest
from search.answer import Caution
from web.current import desk
from web.fields import shown_fields

blueprint = Blueprint("case_pages", __name__)


@dataclass(frozen=True, kw_only=True)
class FoundNote:
    """A case note on disk: its path within the notebook, and its fields unless they cannot be read."""

    path: str
    note: CaseNote | None
    error: NoteError | None = None


def find_note(case_id: str) -> FoundNote:
    """Return the note of a case, or end the request with 404."""
    notebook = desk().notebook
    path = notebook.case_path(case_id)
    if path is None:
        abort(404, f"There is no case {case_id} in this notebook. It may have been removed.")
    try:
        return FoundNote(path=path, note=notebook.read_case(path))
    except NoteError as error:
        return FoundNote(path=path, note=None, error=error)
    except FileNotFoundError:
        abort(404, f"The note of case {case_id} was just removed.")


def cautions_of(note: CaseNote) -> list[Caution]:
    """Return the note's hazards with the plain sentence of each, those of its family first."""
    notebook = desk().notebook
    family = notebook.families().get(note.chassis_family)
    vocabulary = notebook.vocabulary()
    kinds = dict.fromkeys((*(family.caution if family else ()), *note.caution))
    return [Caution(kind=kind, says=vocabulary.caution_sentence(kind)) for kind in kinds]


def raw_page(case_id: str, found: FoundNote, text: str, expect: str) -> str:
    """Show a note whose fields cannot be read, in a box where it can be put right.

    A text with bytes that are no UTF-8 is only shown: saving it from here would lose them.
    """
    whole = "\ufffd" not in text
    return render_template(
        "case_raw.html", case_id=case_id, found=found, raw=text, expect=expect, whole=whole
    )


@blueprint.get("/cases/<case_id>")
def show(case_id: str) -> str:
    """Show one case, or the note as it stands when its fields cannot be read."""
    found = find_note(case_id)
    if found.note is None:
        data = desk().notebook.read_bytes(found.path)
        return raw_page(case_id, found, data.decode("utf-8", errors="replace"), digest(data))
    note = found.note
    return render_template(
        "case.html",
        note=note,
        path=found.path,
        fields=shown_fields(note),
        cautions=cautions_of(note),
        body=Markup(render_markdown(note.body)),
        later=desk().bench.comebacks_of(note.case),
    )
