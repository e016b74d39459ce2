"""The search page: one complaint, one answer, and the whole state in the URL."""

from __future__ import annotations

from flask import Blueprint, render_template, request

from search.answer import Answer, CheckAnswer
from search.bench import BlinksError
from web.current import desk
from web.marking import marker
from web.state import SearchState

blueprint = Blueprint("search_page", __name__)

CAUSES_SHOWN, CHECKS_SHOWN = 6, 8  # chosen by us: two screens at a bench; the rest is folded away
LEAST_LIKELY = 0.01  # chosen by us: a cause below one in a hundred is looked up, not looked at
EVIDENCE_SHOWN = 3  # chosen by us: one line of case links; the rest is folded away


@blueprint.get("/")
def search() -> tuple[str, int]:
    """Answer the complaint in the URL, or offer the empty page.

    A blink pattern that cannot be read is said beside its box, and the answer is given without it.
    """
    state = SearchState.from_args(request.args)
    bench = desk().bench
    families = desk().notebook.families()
    if state.empty:
        page = render_template("start.html", state=state, families=families, holdings=bench.holdings())
        return page, 200
    blinks_fault = ""
    try:
        answer = answer_for(state)
    except BlinksError as error:
        blinks_fault = str(error)
        answer = answer_for(state.changed(blinks=""))
    page = render_template(
        "answer.html",
        state=state,
        answer=answer,
        families=families,
        mark=marker(answer.reading, bench.finder),
        steps=steps_of(answer),
        causes_shown=causes_shown(answer),
        checks_shown=CHECKS_SHOWN,
        evidence_shown=EVIDENCE_SHOWN,
        blinks_fault=blinks_fault,
    )
    return page, 422 if blinks_fault else 200


def causes_shown(answer: Answer) -> int:
    """Return how many causes to show at once: those worth a look, at least two."""
    likely = sum(cause.probability >= LEAST_LIKELY for cause in answer.causes)
    return min(max(likely, 2), CAUSES_SHOWN)


def steps_of(answer: Answer) -> list[CheckAnswer | None]:
    """Return the checks in order, with None where the set is opened: before the first check inside it."""
    steps: list[CheckAnswer | None] = list(answer.checks)
    first_inside = next((place for place, check in enumerate(answer.checks) if check.inside), None)
    if first_inside is not None:
        steps.insert(first_inside, None)
    return steps


def answer_for(state: SearchState) -> Answer:
    """Ask the bench what the state says."""
    return desk().bench.answer(
        state.q, family=state.family, blinks=state.blinks, rule_out=state.rule_out, limit=state.limit
    )
