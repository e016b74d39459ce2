"""The search page: one complaint, one answer, and the whole state in the URL."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from flask import Blueprint, render_template, request

from kb.notes.case import CaseNote
from kb.notes.family import FamilyNote
from search.answering.answer import Answer, CheckAnswer
from search.bench import NOT_SAID, Bench, BlinksError
from search.index.case_table import CaseTable
from web.server.current import desk
from web.views.marking import marker
from web.views.state import DEFAULT_LIMIT, SearchState
from web.views.wording import family_met, say_where

blueprint = Blueprint("search_page", __name__)

CAUSES_SHOWN, CHECKS_SHOWN = 5, 8  # chosen by us: two screens at a bench; the rest is folded away
LESS_LIKELY_SHOWN = 15  # chosen by us: of the folded causes, as many as anybody reads; the rest is summed up
LEAST_LIKELY = 0.03  # chosen by us: a cause less likely than that is looked up, not looked at
NEWEST_SHOWN = 6  # chosen by us: a day's work
HITS_SHOWN = 8  # chosen by us: two screens of a telephone; the rest is folded away until more is asked for
STANDS_OUT = 0.15  # chosen by us: below one in seven the likeliest cause is no better than a guess
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
        page = render_template(
            "start.html",
            state=state,
            families=families,
            holdings=bench.holdings(),
            newest=newest_in(bench.knowledge.table),
        )
        return page, 200
    blinks_fault = ""
    try:
        answer = answer_for(state)
    except BlinksError as error:
        blinks_fault = str(error)
        answer = answer_for(state.changed(blinks=""))
    asked = "" if state.family == NOT_SAID else state.family
    model_said = asked or answer.reading.model
    page = render_template(
        "answer.html",
        state=state,
        answer=answer,
        families=families,
        mark=marker(answer.reading, bench.finder),
        steps=steps_of(answer),
        elsewhere=elsewhere_of(answer),
        family_met=family_met(answer),
        faults=faults_of(answer, bench),
        model_said=model_said,
        model_listed=answer.reading.family not in families or model_is_listed(model_said, families.values()),
        causes_shown=causes_shown(answer),
        less_shown=causes_shown(answer) + LESS_LIKELY_SHOWN,
        checks_shown=CHECKS_SHOWN,
        evidence_shown=EVIDENCE_SHOWN,
        hits_shown=HITS_SHOWN if state.limit == DEFAULT_LIMIT else state.limit,
        stands_out=STANDS_OUT,
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


def causes_shown(answer: Answer) -> int:
    """Return how many causes to show at once: those worth a look, at least the first."""
    likely = sum(cause.probability >= LEAST_LIKELY for cause in answer.causes)
    return min(max(likely, 1), CAUSES_SHOWN)


def faults_of(answer: Answer, bench: Bench) -> list[str]:
    """Return the ideas read from the complaint; what kind of set it is stands by itself."""
    devices = {term.concept for term in bench.knowledge.vocabulary.of_kind("device")}
    return [concept for concept in answer.reading.concepts if concept not in devices]


def model_is_listed(model: str, families: Iterable[FamilyNote]) -> bool:
    """Tell whether the model said is one that a family note lists, with or without letters after it.

    True where no model was said: there is nothing to doubt.
    """
    said = _letters(model)
    listed = [name for family in families for name in (*family.models, family.chassis_family)]
    return not said or any(said.startswith(_letters(name.partition("*")[0])) for name in listed)


def _letters(name: str) -> str:
    return "".join(each for each in name.casefold() if each.isalnum())


def elsewhere_of(answer: Answer) -> dict[str, str]:
    """Return for each cause that was never met in the set's own family where it was met instead."""
    family = family_met(answer)
    return {
        cause.root_cause: "" if family in dict(cause.by_family) else say_where(cause, family)
        for cause in answer.causes
    }


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
