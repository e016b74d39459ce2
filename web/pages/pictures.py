"""Photographs of a case: show, add and remove them."""

import os

from flask import Blueprint, Response, abort, flash, redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from kb.notebook import PICTURES
from kb.notes.case import CaseNote
from kb.storage.pictures import LARGEST_FILE, add_pictures, list_pictures, read_picture, remove_picture
from web.pages.cases import find_note
from web.server.desk import desk

blueprint = Blueprint("pictures", __name__)

MOST_AT_ONCE, LARGEST_TOGETHER = 10, 60_000_000  # and bytes; chosen by us: all sent at once is in memory
PICTURES_OF_FAMILY = 6  # chosen by us: a row of thumbnails
# Even a file that is no picture cannot run anything under this policy.
POLICY = "default-src 'none'; sandbox"


def keep_sent(case_id: str) -> bool:
    """Keep the photographs that came with a form, if any; too many end the request."""
    sent = [each for each in request.files.getlist("pictures") if each.filename]
    if len(sent) > MOST_AT_ONCE:
        abort(413, f"Send at most {MOST_AT_ONCE} photographs at once.")
    files = [(each.filename or "picture", each.stream.read(LARGEST_FILE + 1)) for each in sent]
    if files:
        caption, whole = request.form.get("caption", ""), "keep_original" in request.form
        paths = add_pictures(desk().notebook, case_id, files, caption=caption, keep_original=whole)
        desk().notes.follow(paths, message=f"Add {len(files)} photographs to {case_id}")
    return bool(files)


@blueprint.get("/pictures/<case_id>/<name>")
def show(case_id: str, name: str) -> AnyResponse:
    """Send one photograph or its thumbnail."""
    data = read_picture(desk().notebook, case_id, name, small="small" in request.args)
    if data is None:
        abort(404, "There is no such photograph.")
    response = Response(data, mimetype="image/jpeg")
    response.headers["Content-Security-Policy"] = POLICY
    response.add_etag()
    return response.make_conditional(request)


@blueprint.post("/cases/<case_id>/pictures")
def add(case_id: str) -> AnyResponse:
    """Keep the photographs that were sent, or none if one is no picture."""
    find_note(case_id)
    if keep_sent(case_id):
        flash("The photographs are kept with the case.")
    return redirect(url_for("cases.show", case_id=case_id, _anchor="pictures"))


@blueprint.post("/pictures/<case_id>/<name>/remove")
def remove(case_id: str, name: str) -> AnyResponse:
    """Move a photograph aside."""
    find_note(case_id)
    paths = remove_picture(desk().notebook, case_id, name)
    desk().notes.follow(paths, message=f"Take a photograph out of {case_id}")
    return redirect(url_for("cases.show", case_id=case_id, _anchor="pictures"))


@blueprint.app_template_global()
def first_picture(case_id: str) -> str:
    """Return the address of a case's first thumbnail, or ""."""
    name = next(iter(list_pictures(desk().notebook, case_id)), "")
    return url_for("pictures.show", case_id=case_id, name=name, small=1) if name else ""


@blueprint.app_template_global()
def pictured_cases(family: str) -> list[tuple[CaseNote, str]]:
    """Return the newest cases of a family that have photographs, each with its first thumbnail's address."""
    table, root = desk().bench.knowledge.table, desk().notebook.root / PICTURES
    pictured = os.listdir(root) if root.is_dir() and not root.is_symlink() else ()
    rows = [table.row_of[case_id] for case_id in pictured if case_id in table.row_of]
    notes = [table.note(row) for row in rows if table.readable[row]]
    own = sorted((note for note in notes if note.chassis_family == family), key=lambda note: note.case)
    shown = [(note, address) for note in own[::-1] if (address := first_picture(note.case))]
    return shown[:PICTURES_OF_FAMILY]
