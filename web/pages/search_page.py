"""The search page: one complaint, one answer; the URL holds the whole state."""

from functools import partial

from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from search.answering.asked import BlinksError
from search.scoring.bm25f import top
from web.server.desk import desk
from web.views.answer_view import ask, view_answer
from web.views.marking import mark
from web.views.state import SearchState

blueprint = Blueprint("search_page", __name__)

NEWEST_SHOWN = 6  # chosen by us: a day's work


@blueprint.get("/")
def search() -> Response | tuple[str, int]:
    """Answer the complaint in the URL, offer the empty page, or open the case whose number was typed."""
    state = SearchState.from_args(request.args)
    bench = desk().bench
    if state.q.lower() in bench.knowledge.table.row_of:
        return redirect(url_for("cases.show", case_id=state.q.lower()))
    families = desk().notebook.families()
    if state.empty:
        table = bench.knowledge.table
        shown = state.limit if "limit" in request.args else NEWEST_SHOWN
        rows = top(bench.knowledge.basis.readable * 1.0, table.date_days, table.ids, shown)
        newest = [table.note(row) for row in rows.tolist()]
        return render_template("start.html", families=families, bench=bench, newest=newest, shown=shown), 200
    blinks_fault = ""
    try:
        answer = ask(bench, state)
    except BlinksError as error:
        blinks_fault = str(error)
        answer = ask(bench, state.changed(blinks=""))
    view, terms = view_answer(answer, state, bench), {each.term for each in answer.reading.terms}
    said = {"state": state, "view": view, "families": families, "blinks_fault": blinks_fault}
    marking = partial(mark, terms=terms, finder=bench.knowledge.finder)
    page = render_template("answer.html", **said, mark=marking)
    return page, 422 if blinks_fault else 200
