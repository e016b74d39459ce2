"""The families in JSON: the same figures as the pages."""

from flask import Blueprint, Response, jsonify, request

from search.families.trends import weak_points as find_weak_points
from web.server.current import desk
from web.server.errors import json_error
from web.views.family_state import FamilyState
from web.views.family_view import family_view, known_name, overview, unknown_family
from web.views.state import asked_name

blueprint = Blueprint("api_families", __name__, url_prefix="/api")


@blueprint.get("/families")
def families() -> Response:
    """List the families, those that fit `find`; with `name`, answer for one whose name no path can carry."""
    if "name" in request.args:
        return family(request.args["name"])
    lines = overview(desk().bench, asked_name(request.args, "find"))
    return jsonify({"families": [line.as_json() for line in lines]})


@blueprint.get("/families/<path:name>")
def family(name: str) -> Response:
    """Return the figures of one family, over the cases that `outcome`, `model` and `since` leave."""
    bench = desk().bench
    known = known_name(bench, name)
    if known is None:
        return json_error(404, unknown_family(bench, name, "GET /api/families lists them all"))
    state = FamilyState.from_args(request.args)
    if state.trouble:
        return json_error(422, "Some of the query could not be read.", state.trouble)
    return jsonify(family_view(bench, known, state).as_json())


@blueprint.get("/weak-points")
def weak_points() -> Response:
    """Return what recurs over the families, which boards fail most, and what is rising or falling."""
    vocabulary = desk().notebook.vocabulary()
    return jsonify(find_weak_points(desk().bench.snapshot.table, vocabulary=vocabulary).as_json())
