"""Errors in plain words: a page for people, JSON for programs, never a traceback."""

from collections.abc import Mapping

from flask import Flask, Response, current_app, make_response, render_template, request
from flask_wtf.csrf import CSRFError
from werkzeug.exceptions import HTTPException

from kb.errors import BenchloreError, NoteError
from kb.notes.note import NOTHING
from kb.storage.writing import ChangedOnDisk
from web.server.desk import desk

TITLES = {
    400: "That request could not be read",
    401: "Sign in first",
    403: "Not allowed",
    404: "Nothing here by that name",
    405: "This address does not take that kind of request",
    409: "The note changed in the meantime",
    413: "Too large",
    421: "Unknown address",
    422: "Some fields need another look",
    500: "Something went wrong in the program",
    503: "The notebook cannot be used just now",
}
MESSAGES = {
    404: "There is no such page or case. It may have been removed, or the address is wrong.",
    405: "Nothing was changed.",
    413: "Photographs may have 60 MB together, a list 5 MB, anything else 1 MB. The command benchlore import "
    "takes in a longer list.",
    500: "Nothing you have saved is lost. The reason stands in the window where the server runs.",
}
CHANGED = "The note changed in the meantime; read it again and repeat your change."
STALE = (
    "This form was opened before the server or the browser was last restarted, so nothing was changed. "
    "Go back, reload the page and send it again; what you typed is kept in this browser."
)


def error_response(status: int, message: str, fields: Mapping[str, str] | None = None) -> Response:
    """Return the error as JSON or as a page, as the request asks."""
    if request.path.startswith("/api/"):
        return make_response({"error": {"message": message, "fields": dict(fields or {})}}, status)
    title = TITLES.get(status, "That did not work")
    return make_response(render_template("error.html", title=title, message=message, status=status), status)


def fields_at_fault(error: NoteError) -> dict[str, str]:
    """Return for each field of a refused note what to do about its first problem."""
    fields: dict[str, str] = {}
    for problem in error.problems:
        found = "" if problem.found in ("", NOTHING) else f"{problem.found}: "
        fields.setdefault(problem.field or "body", f"{found}{problem.remedy}")
    return fields


def register_errors(app: Flask) -> None:
    """Answer every error in plain words."""

    @app.errorhandler(HTTPException)
    def http_error(error: HTTPException) -> Response:
        status = error.code or 500
        own_words = error.description if error.description != type(error).description else None
        return error_response(status, own_words or MESSAGES.get(status) or "Please go back and try again.")

    app.register_error_handler(CSRFError, lambda error: error_response(400, STALE))

    @app.errorhandler(BenchloreError)
    def own_error(error: BenchloreError) -> Response:
        if isinstance(error, NoteError):
            return error_response(422, str(error), fields_at_fault(error))
        if isinstance(error, ChangedOnDisk):
            return error_response(409, CHANGED)
        current_app.logger.warning("%s", error)
        return error_response(503, str(error))

    @app.errorhandler(Exception)
    def any_error(error: Exception) -> Response:
        current_app.logger.exception("while answering %s", request.path)
        if request.method == "GET" and desk().bench.distrust():
            return current_app.make_response(current_app.dispatch_request())
        return error_response(500, MESSAGES[500])
