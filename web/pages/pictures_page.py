"""Photographs of a case: shown, added from a camera or a file, and taken out."""

from __future__ import annotations

from flask import Blueprint, Response, abort, flash, redirect, request, url_for
from werkzeug.wrappers import Response as AnyResponse

from kb.storage.pictures import LARGEST_FILE, list_pictures, read_picture
from web.pages.case_pages import find_note
from web.server.current import desk

blueprint = Blueprint("pictures_page", __name__)

MOST_AT_ONCE = 10  # chosen by us: what is sent at once lies in memory
# A picture's kind is what its bytes say; this policy keeps even a wrong one from running anything.
POLICY = "default-src 'none'; sandbox"


@blueprint.before_request
def take_large_uploads() -> None:
    """Let a form with photographs be as large as they may be."""
    if request.endpoint == "pictures_page.add":
        request.max_content_length = MOST_AT_ONCE * LARGEST_FILE


@blueprint.get("/pictures/<case_id>/<name>")
def show(case_id: str, name: str) -> AnyResponse:
    """Send one photograph; small for a thumbnail."""
    data = read_picture(desk().notebook, case_id, name, small="small" in request.args)
    if data is None:
        abort(404, "There is no such photograph.")
    response = Response(data, mimetype="image/jpeg")
    response.headers["Content-Security-Policy"] = POLICY
    response.add_etag()
    return response.make_conditional(request)


@blueprint.post("/cases/<case_id>/pictures")
def add(case_id: str) -> AnyResponse:
    """Keep the photographs that were sent; all of them, or none when one is no picture."""
    find_note(case_id)
    sent = [each for each in request.files.getlist("pictures") if each.filename]
    if len(sent) > MOST_AT_ONCE:
        abort(413, f"Send at most {MOST_AT_ONCE} photographs at once.")
    files = [(each.filename or "picture", each.stream.read(LARGEST_FILE + 1)) for each in sent]
    for each in sent:
        each.close()
    if files:
        desk().notes.add_pictures(
            case_id,
            files,
            caption=request.form.get("caption", ""),
            keep_original="keep_original" in request.form,
        )
        flash("The photographs are kept with the case.")
    return redirect(url_for("case_pages.show", case_id=case_id, _anchor="pictures"))


@blueprint.post("/pictures/<case_id>/<name>/remove")
def remove(case_id: str, name: str) -> AnyResponse:
    """Move a photograph aside."""
    find_note(case_id)
    desk().notes.remove_picture(case_id, name)
    return redirect(url_for("case_pages.show", case_id=case_id, _anchor="pictures"))


def first_picture(case_id: str) -> str:
    """Return the address of a case's first thumbnail, or ""."""
    shown = list_pictures(desk().notebook, case_id)
    return url_for("pictures_page.show", case_id=case_id, name=shown[0].name, small=1) if shown else ""
