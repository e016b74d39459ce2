"""Writing up a repair: from nothing, from a search, or from an earlier case like it."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from flask import Blueprint, flash, redirect, request, url_for
from markupsafe import Markup
from werkzeug.wrappers import Response

from kb.notes.case import CaseNote
from kb.notes.models import with_family
from kb.notes.rendering import render_markdown
from web.forms import case_form, flow
from web.forms.alike import Alike, find_alike
from web.forms.case_form import CASE_FORM
from web.forms.flow import FormPage, Reply
from web.forms.note_form import Texts, joined
from web.pages.case_pages import find_note
from web.server.current import desk
from web.views.state import SearchState, asked_name

blueprint = Blueprint("new_page", __name__)

DRAFT = "new"
BOXES = {"first_fields": case_form.FIRST_FIELDS, "more_fields": case_form.MORE_FIELDS}


def today() -> datetime.date:
    """Return the bench's own date."""
    return datetime.date.today()


def opening_texts() -> Texts:
    """Return what the form opens with, as the URL asks."""
    like = asked_name(request.args, "from")
    if like:
        note = find_note(like).note
        if note is not None:
            return case_form.texts_like(note, today())
    came_back = asked_name(request.args, "comeback")
    if came_back:
        note = find_note(came_back).note
        if note is not None:
            return case_form.texts_of_comeback(note, today())
    state = SearchState.from_args(request.args)
    cause = asked_name(request.args, "cause")
    if state.empty:
        return {**case_form.blank(today()), "root_cause": cause}
    bench = desk().bench
    reading = bench.read(state.q, family=state.family, blinks=state.blinks)
    symptoms = {term.concept for term in bench.knowledge.vocabulary.of_kind("symptom")}
    return {
        **case_form.texts_from_reading(reading, cause, today()),
        "board": board_of(cause, reading.family),
        "symptom": joined([concept for concept in reading.concepts if concept in symptoms]),
    }


def board_of(cause: str, family: str) -> str:
    """Return the board on which a cause was found before, in this family if it was; "" for a new cause."""
    return desk().bench.knowledge.board_of(cause, family) if cause else ""


@blueprint.get("/cases/new")
def new() -> str:
    """Open the form."""
    return form_page(opening_texts()).render()


def form_page(texts: Texts, alike: Sequence[Alike] = ()) -> FormPage:
    """Return the page of a new write-up. alike: earlier cases that it may repeat."""
    return FormPage(
        form=CASE_FORM,
        texts=texts,
        title="Write up a repair",
        draft=DRAFT,
        action=url_for("new_page.create"),
        more={**BOXES, "alike": alike},
    )


@blueprint.post("/cases/new")
def create() -> Reply:
    """Save the write-up, or show it again with what is wrong or what it may repeat."""
    typed = CASE_FORM.typed(request.form)
    texts = {**typed, **with_family(typed, list(desk().notebook.families().values()))}

    def save() -> Reply:
        note = desk().notes.read_new(CASE_FORM.fields(texts), body=texts["body"])
        alike = [] if "all_the_same" in request.form else find_alike(desk().bench, note)
        return (form_page(texts, alike).render(), 409) if alike else saved(desk().notes.save_new(note))

    return flow.create(form_page(texts), save)


def saved(note: CaseNote) -> Response:
    """Say that the note is safe and show it; the browser may forget the draft."""
    flash(f"Saved as {note.case}.", f"draft:{DRAFT}")
    return redirect(url_for("case_pages.show", case_id=note.case))


@blueprint.post("/preview")
def preview() -> Markup:
    """Render the markdown body as the case page will show it."""
    return Markup(render_markdown(request.form.get("body", "")))
