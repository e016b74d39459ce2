"""Writing and revising a family note."""

from typing import NoReturn

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


@blueprint.get("/families/<path:name>/edit")
def edit(name: str) -> str:
    """Open the form over a family's note."""
    path = desk().notebook.family_path(name) or no_note(name)
    return flow.open_form(family_page(FAMILY_FORM.texts_of(desk().notebook.read_family(path)), name), path)


@blueprint.post("/families/<path:name>/edit")
def revise(name: str) -> Reply:
    """Save what was typed over."""
    typed = FAMILY_FORM.typed(request.form)
    return flow.revise(
        family_page(typed, name),
        desk().notebook.family_path(name),
        fixed={},
        gone=lambda: no_note(name),
        saved=family_address(typed["chassis_family"]),
    )


def no_note(name: str) -> NoReturn:
    """End a request for a family that has no note."""
    abort(404, f"There is no note on the family {name} yet.")
