"""Write up a repair, from nothing, a search or an earlier case like it; and revise one."""

import datetime
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import replace

from flask import Blueprint, flash, redirect, request, session, url_for
from werkzeug.exceptions import HTTPException

from kb.errors import NoteError
from kb.notes.case import Outcome
from kb.notes.models import squeeze, with_family
from kb.notes.rendering import render_markdown
from kb.storage.pictures import list_pictures
from kb.storage.saving import WriteError
from kb.storage.writing import case_sent, is_key
from search.answering.asked import BlinksError
from search.reading.complaint import LONGEST_COMPLAINT
from web.forms import flow, note_form
from web.forms.fill import Alike, checks_done, find_alike, from_line, slips_in, symptoms_in
from web.forms.flow import FormPage, Reply
from web.forms.note_form import CASE_FORM, Texts, joined, label, say_value
from web.pages.cases import FoundNote, find_note, look_for
from web.pages.pictures import keep_sent
from web.server.desk import desk
from web.views.state import SearchState, asked_name

blueprint = Blueprint("write_up", __name__)

DRAFT = "new"
BOXES = {"first_fields": note_form.FIRST_FIELDS, "more_fields": note_form.MORE_FIELDS}


def blank() -> Texts:
    """Return the texts of a new form, with the initials of whoever signed in."""
    today, tech = datetime.date.today().isoformat(), str(session.get("tech", ""))
    return CASE_FORM.empty(date=today, outcome=Outcome.FIXED, tech=tech)


@blueprint.get("/cases/new")
def new() -> str:
    """Open the form with what the URL gives: an earlier case, a line about the job, a search, or nothing."""
    for name, fields in {"from": note_form.COPIED_FIELDS, "comeback": note_form.SAME_SET}.items():
        note = find_note(asked).note if (asked := asked_name(request.args, name)) else None
        if note is not None:
            comeback_of = note.case if name == "comeback" else ""
            texts = {**blank(), **CASE_FORM.texts_of(note, fields), "comeback_of": comeback_of}
            return form_page(texts).render()
    line = request.args.get("note", "").strip()[:LONGEST_COMPLAINT]
    state = SearchState.from_args(request.args)
    cause = asked_name(request.args, "cause") or state.found
    if line:
        texts, look = from_line(desk().bench, line, blank())
        return form_page(texts, look=look).render()
    if state.empty:
        return form_page({**blank(), "root_cause": cause}).render()
    likely = asked_name(request.args, "likely_family")
    texts = from_search(state.changed(family=state.family or likely), cause)
    look = {"symptom": "read from the complaint", "chassis_family": likely and "guessed from the causes"}
    return form_page(texts, look={box: why for box, why in look.items() if why and texts[box]}).render()


def from_search(state: SearchState, cause: str) -> Texts:
    """Return the texts of the form after a search and its checks."""
    bench = desk().bench
    knowledge = bench.knowledge
    try:
        reading = bench.read(state.q, family=state.family, blinks=state.blinks)
    except BlinksError:
        reading = bench.read(state.q, family=state.family)
    known = knowledge.profile_of(cause, reading.family)
    said = state.family if any(map(str.isdigit, state.family)) else ""
    model = said if squeeze(said) != squeeze(reading.family) else ""
    return {
        **blank(),
        **note_form.texts_from_reading(reading),
        "model": reading.model or model,
        "root_cause": cause,
        "board": known.board if known else "",
        "symptom": joined(symptoms_in(bench, reading.concepts)),
        "body": checks_done(knowledge, reading.family, state.rule_out, dict(state.noted), cause),
    }


def form_page(
    texts: Texts,
    alike: Sequence[Alike] = (),
    slips: Sequence[str] = (),
    look: Mapping[str, str] | None = None,
) -> FormPage:
    """Return the page of a new write-up. It keeps its key, so that sending it twice makes one case."""
    once = request.form.get("once", "")
    sent = (each.replace("\r\n", "\n").split("|", 2) for each in request.form.getlist("look"))
    still = {each[0]: each[1] for each in sent if len(each) == 3 and texts.get(each[0]) == each[2]}
    return FormPage(
        form=CASE_FORM, texts=texts, title="Write up a repair", draft=DRAFT, look=look or still,
        action=url_for("write_up.create"), extra={"once": once if is_key(once) else secrets.token_hex(16)},
        more={**BOXES, "alike": alike, "slips": slips, "line": request.args.get("note", "")},
    )  # fmt: skip


@blueprint.post("/cases/new")
def create() -> Reply:
    """Save the write-up, or show it again with what is wrong or what it may repeat."""
    typed = CASE_FORM.typed(request.form)
    texts = {**typed, **with_family(typed, list(desk().notebook.families().values()))}

    def save() -> Reply:
        notes, once = desk().notes, request.form.get("once", "")
        note = notes.read_new({**CASE_FORM.fields(texts), "body": texts["body"]})
        again = case_sent(desk().notebook, once, note)
        if not again and "all_the_same" not in request.form:
            alike, slips = find_alike(desk().bench, note), slips_in(desk().bench, note, datetime.date.today())
            if alike or slips:
                return form_page(texts, alike, slips).render(), 409
        kept = notes.save_new(note, once=once)
        if not (again and list_pictures(desk().notebook, kept.case)):
            keep_pictures(kept.case)
        flash(f"Saved as {kept.case}.", f"draft:{DRAFT}")  # so that the browser drops the draft
        return redirect(url_for("cases.show", case_id=kept.case))

    return flow.create(form_page(texts), save)


def keep_pictures(case_id: str) -> None:
    """Keep the photographs that came along; the note is saved even if they are refused."""
    try:
        keep_sent(case_id)
    except (NoteError, WriteError, HTTPException) as error:
        why = error.description if isinstance(error, HTTPException) else error
        flash(f"The note is saved, its photographs are not: {why} Add them below.")


@blueprint.post("/preview")
def preview() -> str:
    """Render the markdown body as the case page will show it."""
    return render_markdown(request.form.get("body", ""))


def edit_form(case_id: str, texts: Texts, found: FoundNote | None = None) -> FormPage:
    """Return the form for one note; unknown fields are shown below it."""
    unknown = found.note.unknown if found and found.note else {}
    return FormPage(
        form=CASE_FORM, texts=texts, title=f"Revise {case_id}", draft=case_id, more=BOXES,
        action=url_for("write_up.revise", case_id=case_id),
        kept=[(label(name), say_value(value)) for name, value in unknown.items()],
    )  # fmt: skip


@blueprint.get("/cases/<case_id>/edit")
def edit(case_id: str) -> Reply:
    """Open the form for a note, if its fields can be read."""
    found = find_note(case_id)
    if found.note is None:
        return redirect(url_for("cases.show", case_id=case_id))
    return flow.open_form(edit_form(case_id, CASE_FORM.texts_of(found.note), found), found.path)


@blueprint.post("/cases/<case_id>/edit")
def revise(case_id: str) -> Reply:
    """Save the changed boxes; a case that was removed meanwhile can be saved as a new one."""
    typed = CASE_FORM.typed(request.form)

    trouble = f"Case {case_id} was taken out of the notebook meanwhile. Saving now writes it as a new case."
    found, saved = look_for(case_id), url_for("cases.show", case_id=case_id)
    page, path = edit_form(case_id, typed, found), found.path if found else None
    return flow.revise(
        page, path, gone=lambda: (replace(form_page(typed), trouble=trouble).render(), 409), saved=saved
    )
