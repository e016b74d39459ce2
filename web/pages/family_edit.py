"""Writing and revising a family note."""

from __future__ import annotations

from flask import Blueprint, abort, flash, redirect, request, url_for

from kb.notes.family import FamilyNote
from web.forms import flow
from web.forms.family_form import FAMILY_FORM
from web.forms.flow import FormPage, Reply
from web.forms.note_form import Texts
from web.server.current import desk
from web.views.family_state import family_address
from web.views.state import asked_name

blueprint = Blueprint("family_edit", __name__)


def family_page(texts: Texts, name: str = "") -> FormPage:
    """Return the form of a new family, or of the one called `name`."""
    return FormPage(
        form=FAMILY_FORM,
        texts=texts,
        title=f"Revise {name}" if name else "A new family",
        draft=f"family:{name}",
        action=url_for("family_edit.revise", name=name) if name else url_for("family_edit.create"),
    )


@blueprint.get("/families/new")
def new() -> str:
    """Open the form."""
    return family_page(FAMILY_FORM.empty(chassis_family=asked_name(request.args, "name"))).render()


@blueprint.post("/families/new")
def create() -> Reply:
    """Save a new family note."""
    typed = FAMILY_FORM.typed(request.form)

    def save() -> Reply:
        note = FamilyNote.from_fields(FAMILY_FORM.fields(typed), body=typed["body"])
        desk().notes.save_family(note)
        flash(f"{note.chassis_family} is saved.", "draft:family:")
        return redirect(family_address(note.chassis_family))

    return flow.create(family_page(typed), save)


def path_of(name: str) -> str:
    """Return the path of a family's note, or end the request with 404."""
    path = desk().notebook.family_path(name)
    if path is None:
        abort(404, f"There is no note on the family {name} yet.")
    return path


def texts_at(path: str) -> Texts:
    """Return the boxes of the family note at a path."""
    return FAMILY_FORM.texts_of(desk().notebook.read_family(path))


@blueprint.get("/families/<path:name>/edit")
def edit(name: str) -> str:
    """Open the form over a family's note."""
    path = path_of(name)
    return flow.open_form(family_page(texts_at(path), name), path)


@blueprint.post("/families/<path:name>/edit")
def revise(name: str) -> Reply:
    """Save what was typed over."""
    typed = FAMILY_FORM.typed(request.form)
    return flow.revise(
        family_page(typed, name),
        path=lambda: path_of(name),
        read=texts_at,
        fixed={},
        gone=lambda: abort(404),  # path_of() has said so already
        saved=lambda: family_address(typed["chassis_family"]),
    )
