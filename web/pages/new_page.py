"""Writing up a repair: from nothing, from a search, or from an earlier case like it."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from markupsafe import Markup
from werkzeug.wrappers import Response

from kb.errors import NoteError
from kb.notes.case import CaseNote, Outcome
from kb.notes.rendering import render_markdown
from kb.storage.saving import require_root
from kb.storage.writing import WriteError
from web.forms import case_form
from web.forms.alike import Alike, find_alike
from web.forms.case_form import Texts
from web.forms.comeback import texts_of_comeback
from web.pages.case_pages import find_note
from web.server.current import desk
from web.server.errors import fields_at_fault
from web.views.state import SearchState, asked_name

blueprint = Blueprint("new_page", __name__)

DRAFT = "new"


@dataclass(frozen=True, kw_only=True)
class FormPage:
    """What the form shows: the texts, what is wrong with them, and what to look at before saving.

    draft: name under which the browser keeps what is typed until it is saved.
    trouble: why nothing was saved, when it is no single field's fault.
    """

    texts: Texts
    title: str
    draft: str
    action: str
    errors: Mapping[str, str] = field(default_factory=dict)
    alike: Sequence[Alike] = ()
    extra: Mapping[str, str] = field(default_factory=dict)
    kept: Sequence[tuple[str, str]] = ()
    trouble: str = ""

    def render(self, template: str = "case_form.html", **more: object) -> str:
        """Render the form."""
        notebook = desk().notebook
        return render_template(
            template,
            page=self,
            headings=case_form.headings(),
            first_fields=case_form.FIRST_FIELDS,
            more_fields=case_form.MORE_FIELDS,
            chosen_cautions=case_form.split_items(self.texts["caution"]),
            caution_terms=notebook.vocabulary().of_kind("caution"),
            outcomes=list(Outcome),
            families=notebook.families(),
            **more,
        )


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
            return texts_of_comeback(note, today())
    state = SearchState.from_args(request.args)
    cause = asked_name(request.args, "cause")
    if state.empty:
        return {**case_form.empty_texts(today()), "root_cause": cause}
    bench = desk().bench
    reading = bench.read(state.q, family=state.family, blinks=state.blinks)
    symptoms = {term.concept for term in bench.knowledge.vocabulary.of_kind("symptom")}
    return {
        **case_form.texts_from_reading(reading, cause, today()),
        "board": board_of(cause, reading.family),
        "symptom": case_form.joined([concept for concept in reading.concepts if concept in symptoms]),
    }


def board_of(cause: str, family: str) -> str:
    """Return the board on which a cause was found before, in this family if it was; "" for a new cause."""
    knowledge = desk().bench.knowledge
    codes = knowledge.ruling([cause] if cause else []).codes.tolist()
    return knowledge.profile(codes[0], knowledge.family_code(family)).board if codes else ""


@blueprint.get("/cases/new")
def new() -> str:
    """Open the form."""
    return form_page(opening_texts()).render()


def form_page(texts: Texts, *, alike: Sequence[Alike] = (), **more: Any) -> FormPage:
    """Return the page of a new write-up."""
    return FormPage(
        texts=texts,
        title="Write up a repair",
        draft=DRAFT,
        action=url_for("new_page.create"),
        alike=alike,
        **more,
    )


@blueprint.post("/cases/new")
def create() -> Response | tuple[str, int]:
    """Save the write-up, or show it again with what is wrong or what it may repeat."""
    typed = case_form.texts_from_form(request.form)
    try:
        require_root(desk().notebook)  # without its families, fields would seem to be missing
    except WriteError as error:
        return form_page(typed, trouble=str(error)).render(), 503
    texts = case_form.with_family(typed, desk().notebook.families().values())
    try:
        note = CaseNote.from_fields(case_form.fields_from_texts(texts), body=texts["body"])
    except NoteError as error:
        return form_page(texts, errors=fields_at_fault(error)).render(), 422
    if "all_the_same" not in request.form:
        alike = find_alike(desk().bench, note)
        if alike:
            return form_page(texts, alike=alike).render(), 409
    try:
        return saved(desk().save_new(note))
    except WriteError as error:
        return form_page(texts, trouble=str(error)).render(), 503


def saved(note: CaseNote) -> Response:
    """Say that the note is safe and show it; the browser may forget the draft."""
    flash(f"Saved as {note.case}.", f"draft:{DRAFT}")
    return redirect(url_for("case_pages.show", case_id=note.case))


@blueprint.post("/preview")
def preview() -> Markup:
    """Render the markdown body as the case page will show it."""
    return Markup(render_markdown(request.form.get("body", "")))
