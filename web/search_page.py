"""The search page: one complaint, one answer, and the whole state in the URL."""

from __future__ import annotations

from flask import Blueprint, render_template, request

from search.answer import Answer
from web.current import desk
from web.marking import marker
from web.state import SearchState

blueprint = Blueprint("search_page", __name__)

EVIDENCE_SHOWN = 3  # chosen by us: one line of case links; the rest is folded away


@blueprint.get("/")
def search() -> str:
    """Answer the complaint in the URL, or offer the empty page."""
    state = SearchState.from_args(request.args)
    bench = desk().bench
    families = desk().notebook.families()
    if state.empty:
        return render_template("start.html", state=state, families=families, holdings=bench.holdings())
    answer = answer_for(state)
    return render_template(
        "answer.html",
        state=state,
        answer=answer,
        families=families,
        mark=marker(answer.reading, bench.finder),
        evidence_shown=EVIDENCE_SHOWN,
    )


def answer_for(state: SearchState) -> Answer:
    """Ask the bench what the state says."""
    return desk().bench.answer(
        state.q, family=state.family, blinks=state.blinks, rule_out=state.rule_out, limit=state.limit
    )
