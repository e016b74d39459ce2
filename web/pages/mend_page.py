"""Mending a note whose fields cannot be read: the whole text in one box, saved only when it reads well."""

from flask import Blueprint, abort, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from kb.errors import NoteError, Problem
from kb.storage.saving import WriteError, require_root
from kb.storage.writing import ChangedOnDisk, digest
from web.server.current import desk

blueprint = Blueprint("mend_page", __name__)


@blueprint.get("/attention/note")
def show() -> str:
    """Open a note's text."""
    file = asked_file()
    data = desk().notebook.read_bytes(file)
    text = data.decode("utf-8", errors="replace")
    return text_page(file, text, digest(data), problems_of(file))


@blueprint.post("/attention/note")
def save() -> Response | tuple[str, int]:
    """Put the text in the note's place, if it reads well."""
    text = request.form.get("text", "").replace("\r\n", "\n")
    expect = request.form.get("expect", "")
    try:
        require_root(desk().notebook)
    except WriteError as error:
        return text_page(request.form.get("file", ""), text, expect, (), trouble=str(error)), 503
    file = asked_file()
    try:
        desk().notes.revise_text(file, text, expect=expect)
    except NoteError as error:
        return text_page(file, text, expect, error.problems), 422
    except WriteError as error:
        return text_page(file, text, expect, (), trouble=str(error)), 503
    except ChangedOnDisk as error:
        trouble = (
            "Someone changed this note while you wrote. Below is your text; saving it now replaces theirs."
        )
        now = digest(desk().notebook.read_bytes(file))
        return text_page(file, text, now, (), trouble=trouble, theirs=error.current_text), 409
    flash("Saved. The note can be read now.")
    return redirect(url_for("attention.attention"))


def asked_file() -> str:
    """Return the note that is asked for, which must be one of this notebook."""
    file = request.values.get("file", "")
    if file not in desk().notebook.scan():
        abort(404, "There is no such note in this notebook.")
    return file


def problems_of(file: str) -> list[Problem]:
    """Return what keeps a note from being read."""
    notebook = desk().notebook
    try:
        notebook.read_family(file) if file.startswith("families/") else notebook.read_case(file)
    except NoteError as error:
        return list(error.problems)
    return []


def text_page(
    file: str, text: str, expect: str, problems: object, *, trouble: str = "", theirs: str = ""
) -> str:
    """Show a note's text in a box.

    A text with bytes that are no UTF-8 is only shown: saving it from here would lose them.
    """
    return render_template(
        "note_text.html",
        file=file,
        text=text,
        expect=expect,
        problems=problems,
        trouble=trouble,
        theirs=theirs,
        whole="\ufffd" not in text,
    )
