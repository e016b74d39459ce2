"""The search page: one complaint, one answer, and the whole state in the URL."""

from functools import partial

import numpy as np
from flask import Blueprint, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from kb.notes.case import CaseNote
from search.bench import BlinksError
from search.index.case_table import CaseTable
from web.server.current import desk
from web.views import answer_view
from web.views.answer_view import ask, view_answer
from web.views.marking import mark
from web.views.state import SearchState

blueprint = Blueprint("search_page", __name__)

NEWEST_SHOWN = 6  # chosen by us: a day's work


@blueprint.get("/")
def search() -> Response | tuple[str, int]:
    """Answer the complaint in the URL, offer the empty page, or open the case whose number was typed.

    A blink pattern that cannot be read is said beside its box, and the answer is given without it.
    """
    state = SearchState.from_args(request.args)
    bench = desk().bench
    if state.q.lower() in bench.knowledge.table.row_of:
        return redirect(url_for("case_pages.show", case_id=state.q.lower()))
    families = desk().notebook.families()
    if state.empty:
        newest = newest_in(bench.knowledge.table)
        page = render_template(
            "start.html", state=state, families=families, holdings=bench.holdings(), newest=newest,
            nothing_asked=bool(request.args),
        )  # fmt: skip
        return page, 200
    blinks_fault = ""
    try:
        answer = ask(bench, state)
    except BlinksError as error:
        blinks_fault = str(error)
        answer = ask(bench, state.changed(blinks=""))
    page = render_template(
        "answer.html",
        state=state,
        view=view_answer(answer, state, bench),
        shown=answer_view,
        families=families,
        mark=partial(mark, terms={each.term for each in answer.reading.terms}, finder=bench.finder),
        blinks_fault=blinks_fault,
    )
    return page, 422 if blinks_fault else 200


def newest_in(table: CaseTable) -> list[CaseNote]:
    """Return the newest notes, newest first, ties by case id: what was on the bench yesterday."""
    rows = np.flatnonzero(table.alive & table.readable)
    if rows.size > NEWEST_SHOWN:
        dates = table.date_days[rows]
        rows = rows[dates >= np.partition(dates, -NEWEST_SHOWN)[-NEWEST_SHOWN]]
    newest = sorted(rows.tolist(), key=lambda row: (-int(table.date_days[row]), table.ids[row]))
    return [table.note(row) for row in newest[:NEWEST_SHOWN]]
