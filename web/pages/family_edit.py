"""Writing and revising a family note, in the same way as a case."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, abort, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from kb.errors import NoteError
from kb.notes.family import FAMILY_FIELDS, FamilyNote
from kb.storage.editing import EditError
from kb.storage.saving import require_root
from kb.storage.writing import ChangedOnDisk, WriteError, digest
from web.forms import case_form, family_form
from web.forms.case_form import Texts
from web.pages.new_page import FormPage
from web.server.current import desk
from web.server.errors import fields_at_fault
from web.views.state import asked_name

blueprint = Blueprint("family_edit", __name__)


def family_page(texts: Texts, *, name: str = "", **more: Any) -> FormPage:
    """Return the form of a new family, or of the one called `name`."""
    action = url_for("family_edit.revise", name=name) if name else url_for("family_edit.create")
    return FormPage(
        texts=texts,
        title=f"Revise {name}" if name else "A new family",
        draft=f"family:{name}",
        action=action,
        **more,
    )


def rendered(page: FormPage, **more: object) -> str:
    """Render a family's form."""
    return render_template(
        "family_form.html",
        page=page,
        headings=family_form.HEADINGS,
        chosen_cautions=case_form.split_items(page.texts["caution"]),
        caution_terms=desk().notebook.vocabulary().of_kind("caution"),
        **more,
    )


@blueprint.get("/families/new")
def new() -> str:
    """Open the form."""
    return rendered(family_page(family_form.empty_family(asked_name(request.args, "name"))))


@blueprint.post("/families/new")
def create() -> Response | tuple[str, int]:
    """Save a new family note."""
    texts = family_form.family_texts_from_form(request.form)
    try:
        note = FamilyNote.from_fields(family_form.fields_from_family_texts(texts), body=texts["body"])
        desk().save_family(note)
    except NoteError as error:
        return rendered(family_page(texts, errors=fields_at_fault(error))), 422
    except WriteError as error:
        return rendered(family_page(texts, trouble=str(error))), 503
    flash(f"{note.chassis_family} is saved.", "draft:family:")
    return redirect(desk().family_address(note.chassis_family))


def path_of(name: str) -> str:
    """Return the path of a family's note, or end the request with 404."""
    path = desk().notebook.family_path(name)
    if path is None:
        abort(404, f"There is no note on the family {name} yet.")
    return path


@blueprint.get("/families/<path:name>/edit")
def edit(name: str) -> str:
    """Open the form over a family's note."""
    notebook = desk().notebook
    path = path_of(name)
    texts = family_form.family_texts(notebook.read_family(path))
    extra = {"expect": digest(notebook.read_bytes(path)), "base": case_form.pack(texts)}
    return rendered(family_page(texts, name=name, extra=extra))


@blueprint.post("/families/<path:name>/edit")
def revise(name: str) -> Response | tuple[str, int]:
    """Write only what was typed over."""
    notebook = desk().notebook
    texts = family_form.family_texts_from_form(request.form)
    try:
        require_root(notebook)
    except WriteError as error:
        extra = {field: request.form.get(field, "") for field in ("expect", "base")}
        return rendered(family_page(texts, name=name, extra=extra, trouble=str(error))), 503
    path = path_of(name)
    now = family_form.family_texts(notebook.read_family(path))
    base = case_form.unpack(request.form.get("base", ""), FAMILY_FIELDS) or now
    expect = request.form.get("expect", "")
    extra = {"expect": expect, "base": case_form.pack(base)}
    try:
        FamilyNote.from_fields(family_form.fields_from_family_texts(texts), body=texts["body"])
        body = texts["body"] if texts["body"] != base.get("body") else None
        desk().revise(path, family_form.changed_family_fields(texts, base), body=body, expect=expect)
    except NoteError as error:
        return rendered(family_page(texts, name=name, errors=fields_at_fault(error), extra=extra)), 422
    except ChangedOnDisk as error:
        return family_conflict(name, path, texts, base, error), 409
    except EditError as error:
        return rendered(family_page(texts, name=name, extra=extra, trouble=str(error))), 422
    except WriteError as error:
        return rendered(family_page(texts, name=name, extra=extra, trouble=str(error))), 503
    flash("Saved.", f"draft:family:{name}")
    return redirect(desk().family_address(texts["chassis_family"]))


def family_conflict(name: str, path: str, typed: Texts, base: Texts, error: ChangedOnDisk) -> str:
    """Show both versions, and a form that holds what was typed here over what the other bench wrote."""
    notebook = desk().notebook
    theirs = family_form.family_texts(notebook.read_family(path))
    mine = {field for field in theirs if typed[field] != base.get(field, "")}
    merged = {field: typed[field] if field in mine else theirs[field] for field in theirs}
    both = [
        (family_form.HEADINGS[field], theirs[field], typed[field])
        for field in theirs
        if field in mine and theirs[field] != typed[field]
    ]
    extra = {"expect": digest(notebook.read_bytes(path)), "base": case_form.pack(theirs)}
    return rendered(family_page(merged, name=name, extra=extra), both=both, current_text=error.current_text)
