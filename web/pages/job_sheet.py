"""The job sheet of one case: what was wrong, what was done and what it costs, for the owner to take along."""

from flask import Blueprint, abort, render_template, request
from markupsafe import Markup

from kb.errors import NoteError
from kb.notes.case import CaseNote, Outcome
from kb.notes.rendering import render_markdown
from kb.settings import ShopSettings, load_settings
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
    said, trouble = asked_name(request.args, "parts_cost"), ""
    parts_cost = 0.0
    try:
        settings = load_settings(desk().notebook.root)
        parts_cost = parse_money(said) if said else 0.0
    except NoteError as error:
        settings, trouble = ShopSettings(), str(error)
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
        cost="" if trouble else cost_of(note, settings, parts_cost),
    )
    return page, 422 if trouble and said else 200


def cost_of(note: CaseNote, settings: ShopSettings, parts_cost: float) -> str:
    """Return the price of a fixed case in the shop's currency; "" where nothing says what an hour costs."""
    if settings.labour_rate is None or note.outcome is not Outcome.FIXED:
        return ""
    amount = price(note.fix_time_min or 0, settings, parts_cost)
    return f"{say_amount(amount)} {settings.currency}".rstrip()
