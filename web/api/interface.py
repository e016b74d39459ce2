"""The JSON interface: the same answers as the pages, for other programs on the shop's network."""

import datetime
from typing import Any

from flask import Blueprint, Response, abort, jsonify, request

from kb.notes.blinks import BlinkPattern
from kb.storage.writing import digest
from search.families.trends import weak_points as find_weak_points
from web.api.suggestions import FIELDS, suggest
from web.forms.fill import help_with, old_cause_told
from web.forms.note_form import case_as_json
from web.pages.cases import find_note
from web.server.desk import desk
from web.server.errors import error_response, fields_at_fault
from web.views.answer_view import ask
from web.views.family_view import family_view, look_up, overview, unknown_family
from web.views.marking import readings
from web.views.owner_advice import answer_as_json
from web.views.state import FamilyState, SearchState, asked_name

blueprint = Blueprint("api", __name__, url_prefix="/api")


@blueprint.get("/search")
def search() -> Response:
    """Answer a complaint; an empty question gets an empty list of cases, not an error."""
    bench = desk().bench
    answer = ask(bench, SearchState.from_args(request.args))
    return jsonify(answer_as_json(answer, bench.knowledge.vocabulary))


@blueprint.get("/cases/<case_id>")
def case(case_id: str) -> Response:
    """Return one case with every field of its note and its body."""
    found = find_note(case_id)
    if found.note is None:
        fields = fields_at_fault(found.error) if found.error else {}
        return error_response(422, f"{found.path} needs attention before its fields can be read.", fields)
    response = jsonify(case_as_json(found.note))
    response.set_etag(digest(desk().notebook.read_bytes(found.path)))
    return response


@blueprint.get("/suggest")
def suggestions() -> Response:
    """Complete a field from what the notebook already says."""
    field = request.args.get("field", "")
    if field not in FIELDS:
        return error_response(400, "Unknown field.", {"field": "one of " + ", ".join(sorted(FIELDS))})
    found = suggest(desk().bench, field, request.args.get("text", ""))
    return jsonify({"field": field, "suggestions": found})


@blueprint.get("/write-up")
def write_up() -> Response:
    """Return what the write-up form fills in or offers for what was typed so far, by field."""
    typed = {name: text.strip() for name, text in request.args.items()}
    return jsonify(help_with(desk().bench, typed, datetime.date.today()))


@blueprint.get("/blinks")
def blinks() -> Response:
    """Return the spelling of a blink pattern, and the steps of a lamp for each of its readings."""
    try:
        pattern = BlinkPattern.parse(request.args.get("pattern", ""))
    except ValueError as error:
        return error_response(422, "The pattern cannot be read.", {"pattern": str(error)})
    shown = [{"said": said, "steps": steps} for said, steps in readings(pattern)]
    return jsonify({"pattern": str(pattern), "readings": shown})


def json_fields() -> dict[str, Any]:
    """Return the JSON object of a write, or end the request with what to send instead."""
    if request.mimetype != "application/json":
        abort(415, "Send the case as application/json.")
    try:
        given = request.get_json(silent=True)
    except RecursionError:  # thousands of nested brackets
        given = None
    if not isinstance(given, dict):
        abort(400, "Send one JSON object with the note's fields.")
    return given


@blueprint.post("/cases")
def create() -> tuple[Response, int]:
    """Save a new case; 201 once the note is safe on disk."""
    note = desk().notes.save_new(desk().notes.read_new(json_fields()))
    return jsonify({"case": note.case}), 201


@blueprint.put("/cases/<case_id>")
def revise(case_id: str) -> Response:
    """Change the given fields and no other byte; with If-Match only if the note has that ETag."""
    found = find_note(case_id)
    given = json_fields()
    if given.get("case", case_id) != case_id:
        return error_response(422, "A case keeps its number.", {"case": f"write {case_id}, or leave it out"})
    current = digest(desk().notebook.read_bytes(found.path))
    expect = request.headers.get("If-Match", f'"{current}"').strip().strip('"')
    body = given.pop("body", None)
    desk().notes.revise(found.path, given, body=body, expect=expect)
    notice = ""
    if old := found.note:
        cause, text = str(given.get("root_cause", old.root_cause)).strip(), old.body if body is None else body
        notice = old_cause_told(old.root_cause, cause, text)
    return jsonify({"case": case_id, "notice": notice})


@blueprint.get("/families")
def families() -> Response:
    """List the families that match `find`. `name`: answer for this one, whose name no path can carry."""
    if "name" in request.args:
        return family(request.args["name"])
    lines = overview(desk().bench, asked_name(request.args, "find"))
    return jsonify({"families": [line.as_json() for line in lines]})


@blueprint.get("/families/<path:name>")
def family(name: str) -> Response:
    """Return the figures of one family, over the cases of an `outcome`, a `model`, or `since` a day."""
    bench = desk().bench
    known, meant = look_up(bench, name)
    if known is None:
        return error_response(404, unknown_family(name, meant, "GET /api/families lists them all"))
    state = FamilyState.from_args(request.args)
    if state.trouble:
        return error_response(422, "Some of the query could not be read.", state.trouble)
    return jsonify(family_view(bench, known, state).as_json())


@blueprint.get("/weak-points")
def weak_points() -> Response:
    """Return what recurs over the families, which boards fail most, and what is rising or falling."""
    vocabulary = desk().notebook.vocabulary()
    return jsonify(find_weak_points(desk().bench.knowledge.table, vocabulary=vocabulary).as_json())
