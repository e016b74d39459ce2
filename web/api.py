"""The JSON interface: the same answers as the pages, for other programs on the shop's network."""

from __future__ import annotations

from flask import Blueprint, Response, jsonify, request

from web.case_pages import find_note
from web.current import desk
from web.errors import fields_at_fault, json_error
from web.fields import case_as_json
from web.search_page import answer_for
from web.state import SearchState
from web.suggestions import FIELDS, suggest

blueprint = Blueprint("api", __name__, url_prefix="/api")


@blueprint.get("/search")
def search() -> Response:
    """Answer a complaint; an empty question gets an empty list of cases, not an error."""
    return jsonify(answer_for(SearchState.from_args(request.args)).as_json())


@blueprint.get("/cases/<case_id>")
def case(case_id: str) -> Response:
    """Return one case with every field of its note and its body."""
    found = find_note(case_id)
    if found.note is None:
        fields = fields_at_fault(found.error) if found.error else {}
        return json_error(422, f"{found.path} needs attention before its fields can be read.", fields)
    return jsonify(case_as_json(found.note))


@blueprint.get("/suggest")
def suggestions() -> Response:
    """Complete a field from what the notebook already says."""
    field = request.args.get("field", "")
    if field not in FIELDS:
        return json_error(400, "Unknown field.", {"field": "one of " + ", ".join(sorted(FIELDS))})
    found = suggest(desk().bench, field, request.args.get("text", ""))
    return jsonify({"field": field, "suggestions": found})
