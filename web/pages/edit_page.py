"""Revising a case, removing it, and bringing it back."""

from __future__ import annotations

from dataclasses import replace

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from kb.errors import NoteError
from kb.notes.case import CaseNote
from kb.storage.editing import EditError
from kb.storage.saving import require_root
from kb.storage.writing import ChangedOnDisk, WriteError, digest
from web.forms import case_form
from web.forms.case_form import Texts
from web.forms.fields import label, say_value
from web.pages.case_pages import FoundNote, find_note
from web.pages.new_page import FormPage, form_page
from web.server.current import desk
from web.server.errors import fields_at_fault
from web.views.state import asked_name

blueprint = Blueprint("edit_page", __name__)


def edit_form(case_id: str, found: FoundNote | None, texts: Texts, base: Texts, expect: str) -> FormPage:
    """Return the form over one note; `base` and `expect` tell the next save what was there before."""
    unknown = found.note.unknown if found and found.note else {}
    return FormPage(
        texts=texts,
        title=f"Revise {case_id}",
        draft=case_id,
        action=url_for("edit_page.revise", case_id=case_id),
        extra={"expect": expect, "base": case_form.pack(base)},
        kept=[(label(name), say_value(value)) for name, value in unknown.items()],
    )


@blueprint.get("/cases/<case_id>/edit")
def edit(case_id: str) -> Response | str:
    """Open the form over a note; one whose fields cannot be read has to be mended in an editor."""
    found = find_note(case_id)
    if found.note is None:
        return redirect(url_for("case_pages.show", case_id=case_id))
    expect = digest(desk().notebook.read_bytes(found.path))
    texts = case_form.texts_of(found.note)
    return edit_form(case_id, found, texts, texts, expect).render()


@blueprint.post("/cases/<case_id>/edit")
def revise(case_id: str) -> Response | tuple[str, int]:
    """Write only what was typed over; everything else in the note stays byte for byte."""
    typed = case_form.texts_from_form(request.form)
    expect = request.form.get("expect", "")
    base = case_form.unpack(request.form.get("base", "")) or {}
    try:
        require_root(desk().notebook)
    except WriteError as error:
        form = edit_form(case_id, None, typed, base, expect)
        return replace(form, trouble=str(error)).render(), 503
    if desk().notebook.case_path(case_id) is None:
        gone = f"Case {case_id} was taken out of the notebook meanwhile. Saving now writes it as a new case."
        return form_page(typed, trouble=gone).render(), 409
    found = find_note(case_id)
    base = base or (case_form.texts_of(found.note) if found.note else {})
    form = edit_form(case_id, found, typed, base, expect)
    try:
        CaseNote.from_fields({**case_form.fields_from_texts(typed), "case": case_id}, body=typed["body"])
    except NoteError as error:
        return with_errors(form, error), 422
    changes = case_form.changed_fields(typed, base)
    body = typed["body"] if typed["body"] != base.get("body") else None
    try:
        desk().revise(found.path, changes, body=body, expect=expect, tech=typed["tech"])
    except ChangedOnDisk as error:
        return conflict(case_id, typed, base, error), 409
    except NoteError as error:
        return with_errors(form, error), 422
    except EditError as error:
        return replace(form, trouble=str(error)).render(), 422
    except WriteError as error:
        return replace(form, trouble=str(error)).render(), 503
    flash("Saved.", f"draft:{case_id}")
    return redirect(url_for("case_pages.show", case_id=case_id))


def with_errors(form: FormPage, error: NoteError) -> str:
    """Show the form again with what is wrong."""
    return replace(form, errors=fields_at_fault(error)).render()


def conflict(case_id: str, typed: Texts, base: Texts, error: ChangedOnDisk) -> str:
    """Show what stands on disk now beside what was typed, and a form that holds both.

    A field that was not typed over takes what the other bench wrote; one that both changed keeps what was
    typed here, and the page shows the other beside it.
    """
    found = find_note(case_id)
    theirs = case_form.texts_of(found.note) if found.note else {}
    names = (*case_form.FORM_FIELDS, "body")
    mine = {name for name in names if typed[name] != base.get(name, "")}
    merged = {name: typed[name] if name in mine else theirs.get(name, typed[name]) for name in names}
    both = [
        (case_form.headings()[name], theirs.get(name, ""), typed[name])
        for name in names
        if name in mine and theirs.get(name, "") != typed[name]
    ]
    expect = digest(desk().notebook.read_bytes(found.path))
    form = edit_form(case_id, found, merged, theirs or base, expect)
    return form.render("conflict.html", both=both, current_text=error.current_text)


@blueprint.post("/cases/<case_id>/remove")
def remove(case_id: str) -> Response:
    """Move the note out of the notebook; it can be brought back."""
    find_note(case_id)
    removed_id = desk().remove(case_id)
    return redirect(url_for("edit_page.removed", removed_id=removed_id, case_id=case_id))


@blueprint.get("/removed/<removed_id>")
def removed(removed_id: str) -> str:
    """Say what was removed and offer it back."""
    return render_template("removed.html", removed_id=removed_id, case_id=asked_name(request.args, "case_id"))


@blueprint.post("/removed/<removed_id>/restore")
def restore(removed_id: str) -> Response:
    """Bring a removed note back."""
    case_id = desk().restore(removed_id)
    flash("The case is back.")
    return redirect(url_for("case_pages.show", case_id=case_id))
