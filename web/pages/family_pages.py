"""The families that the notebook knows, what each is known for, and the weak points across all of them."""

from flask import Blueprint, redirect, render_template, request
from markupsafe import Markup

from kb.notes.blinks import BlinkPattern
from kb.notes.case import Outcome
from kb.notes.rendering import render_markdown
from search.families.trends import weak_points as find_weak_points
from web.forms.flow import Reply
from web.server.current import desk
from web.views import lamps, wording
from web.views.family_state import FamilyState, family_address, say_amount
from web.views.family_view import family_view, known_name, nearest_names, overview
from web.views.state import asked_name

blueprint = Blueprint("family_pages", __name__)
blueprint.add_app_template_filter(say_amount, "amount")
blueprint.add_app_template_filter(BlinkPattern.parse, "blink_pattern")

# Chosen by us, for a page that is read at a glance; everything else opens on request or by searching.
CAUSES_SHOWN, CASES_SHOWN, PARTS_SHOWN, WEAK_SHOWN = 6, 12, 5, 6


@blueprint.app_context_processor
def for_templates() -> dict[str, object]:
    """Give every template the addresses of the family pages, and the words for their figures."""
    return {"family_address": family_address, "words": wording, "replay": lamps}


@blueprint.get("/families/")
def families() -> Reply:
    """List the families by make and device, those that fit what was typed; `name` in the query opens one."""
    if request.args.get("name"):
        return family(request.args["name"])
    said = asked_name(request.args, "find")
    return render_template("families.html", families=overview(desk().bench, said), said=said)


@blueprint.get("/families/<path:name>")
def family(name: str) -> Reply:
    """Show the family that was asked for; another spelling leads to its own address."""
    bench = desk().bench
    known = known_name(bench, name)
    if known is None:
        return render_template("family_unknown.html", said=name, nearest=nearest_names(bench, name)), 404
    state = FamilyState.from_args(request.args)
    if known != name:
        return redirect(family_address(known, state.pairs()))
    view, table = family_view(bench, known, state), bench.snapshot.table
    return render_template(
        "family.html",
        view=view,
        figures=view.figures,
        slice=state,
        body=Markup(render_markdown(view.figures.note.body)),
        outcomes=list(Outcome),
        notes_of=lambda case_ids: [table.note(table.row_of[case]) for case in case_ids],
        causes_shown=CAUSES_SHOWN,
        cases_shown=CASES_SHOWN,
        parts_shown=PARTS_SHOWN,
    )


@blueprint.get("/weak-points")
def weak_points() -> str:
    """Compare the families: what recurs, which boards fail most, what is rising or falling."""
    notebook, table = desk().notebook, desk().bench.snapshot.table
    found = find_weak_points(table, vocabulary=notebook.vocabulary())
    return render_template("weak_points.html", found=found, shown=WEAK_SHOWN)
