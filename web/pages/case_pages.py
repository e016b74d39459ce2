"""One finished repair: cautions first, then every field and the technician's own words."""

from dataclasses import dataclass

from flask import Blueprint, abort, redirect, render_template, url_for
from markupsafe import Markup
from werkzeug.wrappers import Response

from kb.errors import NoteError
from kb.notes.case import CaseNote
from kb.notes.rendering import render_markdown
from kb.storage.pictures import list_pictures
from kb.storage.writing import removed_cases
from search.answering.answer import Caution
from web.forms.fields import compare, shown_fields
from web.server.current import desk

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


def earlier_case(note: CaseNote) -> CaseNote | None:
    """Return the case that this one says came back, where the notebook still has it and can read it."""
    notebook = desk().notebook
    path = notebook.case_path(note.comeback_of) if note.comeback_of not in ("", note.case) else None
    try:
        return notebook.read_case(path) if path else None
    except (NoteError, FileNotFoundError):
        return None


@blueprint.get("/cases/<case_id>")
def show(case_id: str) -> str | Response:
    """Show one case, or offer a removed one back; a note that cannot be read is shown to be mended."""
    if desk().notebook.case_path(case_id) is None:
        removed = [each for each in removed_cases(desk().notebook) if each.partition(".")[0] == case_id]
        if removed:
            return render_template("removed.html", removed_id=removed[-1], case_id=case_id)
    found = find_note(case_id)
    if found.note is None:
        return redirect(url_for("attention.note", file=found.path))
    note = found.note
    earlier = earlier_case(note)
    return render_template(
        "case.html",
        note=note,
        path=found.path,
        fields=shown_fields(note),
        cautions=cautions_of(note),
        body=Markup(render_markdown(note.body)),
        pictures=list_pictures(desk().notebook, case_id),
        later=desk().bench.comebacks_of(note.case),
        earlier=earlier,
        compared=compare(earlier, note) if earlier else [],
        days=(note.date - earlier.date).days if earlier else 0,
    )
