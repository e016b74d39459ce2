"""The job sheet of one case: what was wrong, what was done and what it costs, for the owner to take along."""

from flask import Blueprint, abort, render_template, request
from markupsafe import Markup

from kb.errors import NoteError
from kb.notes.case import Outcome
from kb.notes.rendering import render_markdown
from kb.settings import load_settings
from search.planning.quote import price
from web.pages.case_pages import cautions_of, find_note
from web.server.current import desk
from web.views.family_state import parse_money, say_amount
from web.views.state import asked_name

blueprint = Blueprint("job_sheet", __name__)

# The outcome in words for the owner.
ENDED = {
    Outcome.FIXED: "It is repaired.",
    Outcome.NOT_FIXED: "It could not be repaired.",
    Outcome.NOT_ECONOMIC: "A repair would cost more than it is worth.",
    Outcome.NO_FAULT_FOUND: "No fault was found.",
}


@blueprint.get("/cases/<case_id>/sheet")
def show(case_id: str) -> str | tuple[str, int]:
    """Show one A4 page; `parts_cost` adds the parts, `remarks` the technician's own words."""
    note = find_note(case_id).note
    if note is None:
        abort(422, f"The note of case {case_id} needs attention before it makes a sheet.")
    said, trouble, cost = asked_name(request.args, "parts_cost"), "", ""
    try:
        settings = load_settings(desk().notebook.root)
        amount = price(note.fix_time_min or 0, settings, parse_money(said) if said else 0.0)
        if settings.labour_rate is not None and note.outcome is Outcome.FIXED:
            cost = f"{say_amount(amount)} {settings.currency}".rstrip()
    except NoteError as error:
        trouble = str(error)
    except ValueError:
        trouble = f"{said!r}: write an amount such as 12.50"
    page = render_template(
        "job_sheet.html",
        note=note,
        ended=ENDED[note.outcome],
        cautions=cautions_of(note),
        body=Markup(render_markdown(note.body)),
        remarks="remarks" in request.args,
        said=said,
        trouble=trouble,
        cost=cost,
    )
    return page, 422 if trouble and said else 200
