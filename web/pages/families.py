"""Chassis families: what each is known for, the weak points of all, and their notes."""

from typing import NoReturn

from flask import Blueprint, abort, flash, redirect, render_template, request, url_for

from kb.notes.case import Outcome
from kb.notes.family import FamilyNote
from kb.storage.writing import save_family
from search.families.trends import weak_points as find_weak_points
from web.forms import flow
from web.forms.flow import FormPage, Reply
from web.forms.note_form import FAMILY_FORM, Texts
from web.server.desk import desk
from web.views.family_view import family_view, look_up, overview
from web.views.state import FamilyState, asked_name, family_address

blueprint = Blueprint("families", __name__)


@blueprint.get("/families/")
def families() -> Reply:
    """List the families that match what was typed, by make and device; `name` in the query opens one."""
    if request.args.get("name"):
        return family(request.args["name"])
    said = asked_name(request.args, "find")
    return render_template("families.html", families=overview(desk().bench, said), said=said)


@blueprint.get("/families/<path:name>")
def family(name: str) -> Reply:
    """Show one family; another spelling of its name is redirected."""
    bench = desk().bench
    known, meant = look_up(bench, name)
    if known is None:
        return render_template("family_unknown.html", said=name, nearest=meant), 404
    state = FamilyState.from_args(request.args)
    if known != name:
        return redirect(family_address(known, state.pairs()))
    view, table = family_view(bench, known, state), bench.knowledge.table
    return render_template(
        "family.html", view=view, figures=view.figures, slice=state, outcomes=list(Outcome),
        notes_of=lambda case_ids: [table.note(table.row_of[case]) for case in case_ids],
    )  # fmt: skip


@blueprint.get("/weak-points")
def weak_points() -> str:
    """Compare the families: what recurs, which boards fail most, what is rising or falling."""
    table, vocabulary = desk().bench.knowledge.table, desk().notebook.vocabulary()
    return render_template("weak_points.html", found=find_weak_points(table, vocabulary=vocabulary))


def family_page(texts: Texts, name: str = "") -> FormPage:
    """Return the form of a new family, or of the one called `name`."""
    action = url_for("families.revise", name=name) if name else url_for("families.create")
    title = f"Revise {name}" if name else "A new family"
    return FormPage(form=FAMILY_FORM, texts=texts, title=title, draft=f"family:{name}", action=action)


@blueprint.get("/families/new")
def new() -> str:
    """Open the form."""
    return family_page(FAMILY_FORM.empty(chassis_family=asked_name(request.args, "name"))).render()


@blueprint.post("/families/new")
def create() -> Reply:
    """Save a new family note."""
    typed = FAMILY_FORM.typed(request.form)

    def save() -> Reply:
        note = FamilyNote.from_fields({**FAMILY_FORM.fields(typed), "body": typed["body"]})
        path = save_family(desk().notebook, note)
        desk().notes.follow([path], message=f"Add the family {note.chassis_family}")
        flash(f"{note.chassis_family} is saved.", "draft:family:")
        return redirect(family_address(note.chassis_family))

    return flow.create(family_page(typed), save)


@blueprint.get("/families/<path:name>/edit")
def edit(name: str) -> str:
    """Open the form for a family's note."""
    path = desk().notebook.family_path(name) or no_note(name)
    return flow.open_form(family_page(FAMILY_FORM.texts_of(desk().notebook.read_family(path)), name), path)


@blueprint.post("/families/<path:name>/edit")
def revise(name: str) -> Reply:
    """Save the changed boxes."""
    typed = FAMILY_FORM.typed(request.form)
    page, path = family_page(typed, name), desk().notebook.family_path(name)
    saved = family_address(typed["chassis_family"])
    return flow.revise(page, path, gone=lambda: no_note(name), saved=saved)


def no_note(name: str) -> NoReturn:
    """End a request for a family that has no note."""
    abort(404, f"There is no note on the family {name} yet.")
