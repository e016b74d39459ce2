"""Revising a case, removing it, and bringing it back."""

from dataclasses import replace

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from web.forms import flow
from web.forms.case_form import CASE_FORM
from web.forms.fields import label, say_value
from web.forms.flow import FormPage, Reply
from web.forms.note_form import Texts
from web.pages.case_pages import FoundNote, find_note
from web.pages.new_page import BOXES, form_page
from web.server.current import desk
from web.views.state import asked_name

blueprint = Blueprint("edit_page", __name__)


def edit_form(case_id: str, texts: Texts, found: FoundNote | None = None) -> FormPage:
    """Return the form over one note; fields that this program does not know are shown below it."""
    unknown = found.note.unknown if found and found.note else {}
    return FormPage(
        form=CASE_FORM,
        texts=texts,
        title=f"Revise {case_id}",
        draft=case_id,
        action=url_for("edit_page.revise", case_id=case_id),
        kept=[(label(name), say_value(value)) for name, value in unknown.items()],
        more=BOXES,
    )


@blueprint.get("/cases/<case_id>/edit")
def edit(case_id: str) -> Reply:
    """Open the form over a note; one whose fields cannot be read has to be mended in an editor."""
    found = find_note(case_id)
    if found.note is None:
        return redirect(url_for("case_pages.show", case_id=case_id))
    return flow.open_form(edit_form(case_id, CASE_FORM.texts_of(found.note), found), found.path)


@blueprint.post("/cases/<case_id>/edit")
def revise(case_id: str) -> Reply:
    """Save what was typed over; a case that was taken out meanwhile can be saved as a new one."""
    typed = CASE_FORM.typed(request.form)

    def gone() -> Reply:
        trouble = (
            f"Case {case_id} was taken out of the notebook meanwhile. Saving now writes it as a new case."
        )
        return replace(form_page(typed), trouble=trouble).render(), 409

    path = desk().notebook.case_path(case_id)
    return flow.revise(
        edit_form(case_id, typed, find_note(case_id) if path else None),
        path,
        fixed={"case": case_id},
        gone=gone,
        saved=url_for("case_pages.show", case_id=case_id),
    )


@blueprint.post("/cases/<case_id>/remove")
def remove(case_id: str) -> Response:
    """Move the note out of the notebook; it can be brought back."""
    find_note(case_id)
    removed_id = desk().notes.remove(case_id)
    return redirect(url_for("edit_page.removed", removed_id=removed_id, case_id=case_id))


@blueprint.get("/removed/<removed_id>")
def removed(removed_id: str) -> str:
    """Say what was removed and offer it back."""
    return render_template("removed.html", removed_id=removed_id, case_id=asked_name(request.args, "case_id"))


@blueprint.post("/removed/<removed_id>/restore")
def restore(removed_id: str) -> Response:
    """Bring a removed note back."""
    case_id = desk().notes.restore(removed_id)
    flash("The case is back.")
    return redirect(url_for("case_pages.show", case_id=case_id))
