"""What needs attention, and how it is mended: notes with mistakes, and causes with two names."""

from itertools import groupby
from pathlib import PurePosixPath

import numpy as np
from flask import Blueprint, abort, flash, redirect, render_template, request, url_for

from kb.errors import NoteError
from kb.storage.saving import WriteError, require_root
from kb.storage.writing import ChangedOnDisk, digest, merge_causes, removed_cases, revise_text
from search.causes.similar_causes import similar_causes
from web.forms.flow import Reply
from web.server.desk import desk

blueprint = Blueprint("attention", __name__)

NOTES_SHOWN = 200  # chosen by us: more than a day's mending; the command line lists them all


@blueprint.get("/attention")
def attention() -> str:
    """List the notebook's problems by file."""
    problems = desk().bench.attention.problems()
    by_file = [(file, list(found)) for file, found in groupby(problems, key=lambda problem: problem.file)]
    return render_template(
        "attention.html", by_file=by_file[:NOTES_SHOWN], notes=len(by_file), count=len(problems),
        pairs=similar_causes(desk().bench.knowledge.table), removed=removed_cases(desk().notebook),
    )  # fmt: skip


@blueprint.get("/attention/note")
def note() -> str:
    """Open the whole text of a note."""
    file = asked_file()
    data = desk().notebook.read_bytes(file)
    problems = [each for each in desk().bench.attention.problems() if each.file == file]
    return text_page(file, data.decode("utf-8", errors="replace"), digest(data), problems=problems)


@blueprint.post("/attention/note")
def save_note() -> Reply:
    """Save the text as the note, if it can be read without problems."""
    file, expect = request.form.get("file", ""), request.form.get("expect", "")
    text = request.form.get("text", "").replace("\r\n", "\n")
    try:
        require_root(desk().notebook)
        revise_text(desk().notebook, asked_file(), text, expect=expect)
    except NoteError as error:
        return text_page(file, text, expect, problems=error.problems), 422
    except WriteError as error:
        return text_page(file, text, expect, trouble=str(error)), 503
    except ChangedOnDisk as error:
        why = "Someone changed this note while you wrote. Below is your text; saving it now replaces theirs."
        now = digest(desk().notebook.read_bytes(file))
        return text_page(file, text, now, trouble=why, theirs=error.current_text), 409
    desk().notes.follow([file], message=f"Mend {PurePosixPath(file).stem}")
    flash("Saved. The note can be read now.")
    return redirect(url_for("attention.attention"))


def asked_file() -> str:
    """Return the path of the note asked for, or end the request if this notebook has none."""
    file = request.values.get("file", "")
    if file not in desk().notebook.scan():
        abort(404, "There is no such note in this notebook.")
    return file


def text_page(file: str, text: str, expect: str, **more: object) -> str:
    """Show a note's text in a box. If it is not UTF-8 it is read-only, as saving would lose bytes."""
    whole = "\ufffd" not in text
    return render_template("note_text.html", file=file, text=text, expect=expect, whole=whole, **more)


@blueprint.route("/attention/merge", methods=["GET", "POST"])
def merge() -> Reply:
    """Give several causes one name: show which lines would change, and change them on POST."""
    into = " ".join(request.values.get("into", "").split())
    others = [each for each in dict.fromkeys(request.values.getlist("from")) if each.strip() and each != into]
    if not into or not others:
        abort(400, "Say which name to keep and which to give up.")
    shown = request.method != "POST"
    table = desk().bench.knowledge.table
    codes = [code for code, name in enumerate(table.cause_names) if name in others]
    rows = np.flatnonzero(table.alive & table.readable & np.isin(table.cause, codes)).tolist()
    spellings = sorted({*others, *(table.spelling_names[table.spelling[row]] for row in rows)})
    paths = sorted(table.paths[row] for row in rows)
    changes = merge_causes(desk().notebook, spellings, into, dry_run=shown, paths=paths)
    if shown:
        return render_template("merge.html", into=into, others=others, changes=changes)
    desk().notes.follow([change.file for change in changes], message=f"Call it {into} everywhere")
    flash(f"Changed in {len(changes)} notes: they say “{into}” now.")
    return redirect(url_for("attention.attention"))
