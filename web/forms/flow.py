"""What the form of every note does: show what is wrong, save only changed boxes, show both versions."""

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Self

from flask import flash, redirect, render_template, request
from werkzeug.wrappers import Response

from kb.errors import NoteError
from kb.exchange.rows import split_list
from kb.notes.case import Outcome
from kb.storage.saving import WriteError, require_root
from kb.storage.writing import ChangedOnDisk, digest
from web.forms.fill import old_cause_told
from web.forms.note_form import NoteForm, Texts, label
from web.server.desk import desk
from web.server.errors import fields_at_fault

SHOWN_OF_CHANGE = 60  # characters of a text; two fit a line of the page; chosen by us
Reply = Response | str | tuple[str, int]


@dataclass(frozen=True, kw_only=True)
class FormPage:
    """What a form shows: its texts, what is wrong with them, and what to look at before saving."""

    form: NoteForm
    texts: Texts
    title: str
    draft: str  # under which the browser keeps what is typed until it is saved
    action: str  # address to send the form to
    errors: Mapping[str, str] = field(default_factory=dict)  # what to do about each field at fault
    look: Mapping[str, str] = field(default_factory=dict)  # where a guessed text comes from, by box
    extra: Mapping[str, str] = field(default_factory=dict)  # hidden fields
    kept: Sequence[tuple[str, str]] = ()  # heading and value of fields that have no box
    trouble: str = ""  # why nothing was saved, if no single field is at fault
    more: Mapping[str, Any] = field(default_factory=dict)  # other values for the page's template

    def render(self) -> str:
        """Render the form."""
        notebook = desk().notebook
        return render_template(
            self.form.template,
            page=self,
            headings={name: label(name) for name in self.form.names},
            chosen_cautions=split_list(self.texts["caution"]),
            caution_terms=notebook.vocabulary().of_kind("caution"),
            outcomes=list(Outcome),
            families=notebook.families(),
            **self.more,
        )

    def over(self, base: Texts, expect: str) -> Self:
        """Return the form with hidden fields for the note on disk: its texts and the digest of its bytes."""
        return replace(self, extra={"expect": expect, "base": json.dumps(base, ensure_ascii=False)})


def create(page: FormPage, save: Callable[[], Reply]) -> Reply:
    """Save a new note with save(), which returns the reply, or show the form again with what is wrong."""
    try:
        require_root(desk().notebook)  # without its family notes, fields would seem to be missing
        return save()
    except (NoteError, WriteError) as error:
        return refused(page, error)


def refused(page: FormPage, error: NoteError | WriteError) -> Reply:
    """Show the form again, with the reason why it was not saved."""
    if isinstance(error, NoteError):
        return replace(page, errors=fields_at_fault(error)).render(), 422
    return replace(page, trouble=str(error)).render(), 503


def open_form(page: FormPage, path: str) -> str:
    """Show the form for the note at a path."""
    return page.over(page.texts, digest(desk().notebook.read_bytes(path))).render()


def texts_at(form: NoteForm, path: str) -> Texts:
    """Return the texts of the note now at a path; {} if its fields cannot be read."""
    try:
        return form.texts_of(form.kind.parse(desk().notebook.read_text(path), file=path))
    except NoteError:
        return {}


def revise(page: FormPage, path: str | None, *, gone: Callable[[], Reply], saved: str) -> Reply:
    """Save the changed boxes and go to `saved`. path: None if the note is gone; then gone() replies."""
    form, typed, expect = page.form, page.texts, request.form.get("expect", "")
    base = form.unpack(request.form.get("base", "")) or (texts_at(form, path) if path else {})
    page = page.over(base, expect)
    try:
        require_root(desk().notebook)
        if path is None:
            return gone()
        body = typed["body"] if typed["body"] != base.get("body") else None
        changes = form.changes(typed, base)
        desk().notes.revise(path, changes, body=body, expect=expect, tech=typed.get("tech", ""))
    except ChangedOnDisk as error:
        return _both_versions(page, base, error).render(), 409
    except (NoteError, WriteError) as error:
        return refused(page, error)
    said = [f"{label(name)}: {_short(base.get(name, ''))} → {_short(typed[name])}" for name in changes]
    said += [label("body")] if body is not None else []
    told = f"Changed: {'; '.join(said)}." if said else "Nothing was changed."
    flash(f"Saved. {told}", f"draft:{page.draft}")
    old, new = (texts.get("root_cause", "") for texts in (base, typed))
    if notice := old_cause_told(old, new, typed["body"]):
        flash(notice)
    return redirect(saved)


def _short(text: str) -> str:
    text = " ".join(text.split())
    return f"{text[: SHOWN_OF_CHANGE - 1]}…" if len(text) > SHOWN_OF_CHANGE else text or "nothing"


def _both_versions(page: FormPage, base: Texts, changed: ChangedOnDisk) -> FormPage:
    """Return a form with the boxes changed here; all others show what the other bench saved."""
    theirs = texts_at(page.form, changed.relpath)
    mine = {name: text for name, text in page.texts.items() if text != base.get(name, "")}
    pairs = [(label(name), theirs.get(name, ""), text) for name, text in mine.items()]
    both = [pair for pair in pairs if pair[1] != pair[2]]
    now = digest(desk().notebook.read_bytes(changed.relpath))
    more = {**page.more, "both": both, "current_text": changed.current_text}
    return replace(page, texts={**page.texts, **theirs, **mine}, more=more).over(theirs or base, now)
