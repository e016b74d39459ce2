"""One finished repair: its note, the job sheet for the owner, and removing or restoring it."""

from dataclasses import dataclass

from flask import Blueprint, abort, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from kb.errors import NoteError
from kb.notes.case import CaseNote, Outcome
from kb.settings import settings_or_trouble
from kb.storage.pictures import list_pictures
from kb.storage.writing import remove_case, removed_cases, restore_case
from search.answering.advice import cautions_in
from search.answering.answer import Caution
from search.planning.quote import price
from web.forms.note_form import compare, label, say_value
from web.server.desk import desk
from web.views.state import FamilyState, asked_name, say_amount

blueprint = Blueprint("cases", __name__)

ENDED = {  # in words for the owner
    Outcome.FIXED: "It is repaired.",
    Outcome.NOT_FIXED: "It could not be repaired.",
    Outcome.NOT_ECONOMIC: "A repair would cost more than it is worth.",
    Outcome.NO_FAULT_FOUND: "No fault was found.",
}


@dataclass(frozen=True, kw_only=True)
class FoundNote:
    """A case note on disk: its path within the notebook, and the note, or None if it cannot be read."""

    path: str
    note: CaseNote | None
    error: NoteError | None = None


def look_for(case_id: str) -> FoundNote | None:
    """Return the note of a case, None where the notebook has none."""
    notebook = desk().notebook
    path = notebook.case_path(case_id) or ""
    try:
        return FoundNote(path=path, note=notebook.read_case(path)) if path else None
    except NoteError as error:
        return FoundNote(path=path, note=None, error=error)


def find_note(case_id: str) -> FoundNote:
    """Return the note of a case, or end the request with 404."""
    return look_for(case_id) or abort(
        404, f"There is no case {case_id} in this notebook. It may have been removed."
    )


def cautions_of(note: CaseNote) -> tuple[Caution, ...]:
    """Return the hazards of a case with their sentences, those of its family first."""
    family = desk().notebook.families().get(note.chassis_family)
    return cautions_in(desk().notebook.vocabulary(), (*(family.caution if family else ()), *note.caution))


@blueprint.get("/cases/<case_id>")
def show(case_id: str) -> str | Response:
    """Show one case, offer to restore a removed one, or open a note that cannot be read for mending."""
    found = look_for(case_id)
    gone = [] if found else removed_cases(desk().notebook)
    if ids := [each for each in gone if each.partition(".")[0] == case_id]:
        return render_template("removed.html", removed_id=ids[-1], case_id=case_id)
    found = found or find_note(case_id)
    if found.note is None:
        return redirect(url_for("attention.note", file=found.path))
    note = found.note
    before = look_for(note.comeback_of) if note.comeback_of != note.case else None
    earlier = before.note if before else None
    return render_template(
        "case.html", note=note, path=found.path, cautions=cautions_of(note),
        fields=[(name, label(name), say_value(value)) for name, value in note.as_fields().items()],
        pictures=list_pictures(desk().notebook, case_id),
        later=desk().bench.knowledge.table.comebacks_of(note.case),
        earlier=earlier, compared=compare(earlier, note) if earlier else [],
    )  # fmt: skip


@blueprint.get("/cases/<case_id>/sheet")
def job_sheet(case_id: str) -> str | tuple[str, int]:
    """Show one A4 page for the owner; `parts_cost` adds the parts."""
    note = find_note(case_id).note
    if note is None:
        abort(422, f"The note of case {case_id} needs attention before it makes a sheet.")
    said, state, cost = asked_name(request.args, "parts_cost"), FamilyState.from_args(request.args), ""
    settings, problems = settings_or_trouble(desk().notebook.root)
    trouble = "\n".join(map(str, problems)) or state.trouble.get("parts_cost", "")
    if settings.labour_rate is not None and note.outcome is Outcome.FIXED and not trouble:
        amount = price(note.fix_time_min or 0, settings, state.parts_cost or 0.0)
        cost = f"{say_amount(amount)} {settings.currency}".rstrip()
    page = render_template(
        "job_sheet.html", note=note, ended=ENDED[note.outcome], said=said, trouble=trouble, cost=cost
    )
    return page, 422 if trouble and said else 200


@blueprint.post("/cases/<case_id>/remove")
def remove(case_id: str) -> Response:
    """Remove the case; it can be restored."""
    find_note(case_id)
    paths = desk().notes.paths_of(case_id)
    removed_id = remove_case(desk().notebook, case_id)
    desk().notes.follow(paths, message=f"Take {case_id} out")
    return redirect(url_for("cases.removed", removed_id=removed_id, case_id=case_id))


@blueprint.get("/removed/<removed_id>")
def removed(removed_id: str) -> str:
    """Say what was removed, and offer to restore it."""
    return render_template("removed.html", removed_id=removed_id, case_id=asked_name(request.args, "case_id"))


@blueprint.post("/removed/<removed_id>/restore")
def restore(removed_id: str) -> Response:
    """Restore a removed case."""
    case_id = restore_case(desk().notebook, removed_id)
    desk().notes.follow(desk().notes.paths_of(case_id), message=f"Put {case_id} back")
    flash("The case is back.")
    return redirect(url_for("cases.show", case_id=case_id))
