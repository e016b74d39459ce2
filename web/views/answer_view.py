"""What is shown of an answer: decided here once, printed by the page and by the terminal."""

from collections.abc import Mapping
from dataclasses import dataclass

from kb.errors import NoteError
from kb.notes.family import FamilyNote
from kb.settings import load_settings
from search.answering.advice import may_ask_of_flashes, smells_of_gas
from search.answering.answer import Answer, CaseHit, CauseAnswer, Question
from search.bench import Bench
from search.planning.quote import quote
from web.views.heard import Heard, complaint_runs, heard_in, warnings_for
from web.views.owner_advice import advise_owner
from web.views.state import SearchState
from web.views.wording import (
    Groups,
    family_met,
    group_advice,
    say_about,
    say_blinks,
    say_minutes,
    say_record,
    say_share,
    say_where,
)

# All chosen by us.
CAUSES_FIRST, CAUSES_NEXT = 3, 15  # the first fill a telephone's screen; the next are read at times
CHECKS_SHOWN = 8  # a morning's work; the rest is folded away
QUESTIONS_SHOWN = 3  # an owner's patience
BLINKING = "blinking light"  # the question of the vocabulary that asks for flashes
RARE_HAZARD = 6  # a hazard that at most one family in so many lists is not expected, so it is spelt out


@dataclass(frozen=True, kw_only=True)
class Hazard:
    """One caution. spelt_out: its sentence stands on the first screen; likely: False when only possible."""

    kind: str
    says: str
    spelt_out: bool
    likely: bool


@dataclass(frozen=True, kw_only=True)
class CauseView:
    """One likely cause. why: the line on the first screen; facts: what is known of it besides."""

    cause: CauseAnswer
    share: str
    why: str
    against: str
    facts: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step at the bench: a check, or opening the set (cause is "").

    minutes: said, with the time; assumed: no time is recorded. notes: what to know of it. reading: noted.
    """

    what: str
    minutes: str
    assumed: bool = False
    cause: str = ""
    share: str = ""
    notes: tuple[str, ...] = ()
    reading: str = ""


@dataclass(frozen=True, kw_only=True)
class AnswerView:
    """What is shown of one answer.

    complaint: the owner's words, each stretch with why it was left out ("denied", "past", "" for not).
    first, more, other: causes to show at once, those folded away, and the shares of what is beyond.
    opening: the step of opening the set where it comes before the next check. next: the next check.
    found: the cause that it proved to be. advice: lists by title, in the order that the mode asks for.
    questions: what to ask the owner. may_ask: whether anything may be; asks_flashes: whether flashes may.
    times: what a quote is made from, by its label. price: the sentence for the owner, or "".
    """

    answer: Answer
    state: SearchState
    complaint: tuple[tuple[str, str], ...]
    heard: tuple[Heard, ...]
    hazards: tuple[Hazard, ...]
    warnings: tuple[str, ...]
    remarks: tuple[str, ...]
    first: tuple[CauseView, ...]
    more: tuple[CauseView, ...]
    other: tuple[tuple[str, str], ...]
    found: CauseView | None
    steps: tuple[Step, ...]
    before_power: Groups
    while_open: Groups
    owner: Groups
    questions: tuple[Question, ...]
    may_ask: bool
    asks_flashes: bool
    times: tuple[tuple[str, str], ...]
    price: str
    cases: tuple[CaseHit, ...]

    @property
    def family_gone_by(self) -> str:
        """Return the one family that the answer went by and the found cause was met in, else ""."""
        lines = (*self.answer.before_power, *self.answer.while_open)
        gone_by = {each.if_family for each in lines if each.if_family}
        met = dict(self.found.cause.by_family) if self.found else {}
        return self.answer.reading.family or (
            gone_by.pop() if len(gone_by) == 1 and gone_by <= {*met} else ""
        )

    @property
    def on_phone(self) -> bool:
        """Tell whether the owner is on the line."""
        return self.state.mode == "phone"

    @property
    def next(self) -> Step | None:
        """Return the next check, None when there is none."""
        return next((step for step in self.steps if step.cause), None)


def ask(bench: Bench, state: SearchState) -> Answer:
    """Ask the bench what the state says. Raises: BlinksError."""
    return bench.answer(
        state.q,
        family=state.family,
        blinks=state.blinks,
        rule_out=state.rule_out,
        limit=state.limit,
        literal=state.literal,
        yes=state.yes,
        no=state.no,
    )


def view_answer(answer: Answer, state: SearchState, bench: Bench) -> AnswerView:
    """Decide what is shown of an answer to what `state` asks."""
    families = bench.knowledge.families
    causes = tuple(_cause(cause, answer) for cause in answer.causes)
    times, price = _times(answer, state, bench)
    kinds = [each.kind for each in answer.caution]
    flashes = not answer.unmet_device and may_ask_of_flashes(bench.knowledge, answer.reading, kinds)
    may_ask = not smells_of_gas(bench.knowledge, answer.reading)
    asked = [each for each in answer.questions if may_ask and (flashes or each.concept != BLINKING)]
    return AnswerView(
        answer=answer,
        state=state,
        complaint=complaint_runs(answer),
        heard=heard_in(answer, state, bench),
        hazards=_hazards(answer, families),
        warnings=warnings_for(answer, state, families, asks_flashes=flashes),
        remarks=tuple(
            f"{blink.pattern} in {answer.reading.family}: {say_blinks(blink)}"
            for blink in answer.blink_records
        ),
        first=causes[:CAUSES_FIRST],
        more=causes[CAUSES_FIRST:],
        other=_other(answer),
        found=next((each for each in causes if each.cause.root_cause == state.found), None),
        steps=_steps(answer, state),
        before_power=group_advice(answer.before_power),
        while_open=group_advice(answer.while_open),
        owner=advise_owner(answer, bench.knowledge.vocabulary),
        questions=tuple(asked[:QUESTIONS_SHOWN]),
        may_ask=may_ask,
        asks_flashes=flashes,
        times=times,
        price=price,
        cases=() if answer.unmet_device else answer.cases,  # of other devices, they mislead
    )


def _hazards(answer: Answer, families: Mapping[str, FamilyNote]) -> tuple[Hazard, ...]:
    listed = [kind for family in families.values() for kind in family.caution]
    return tuple(
        Hazard(
            kind=each.kind,
            says=each.says,
            likely=each.likely,
            spelt_out=each.likely and RARE_HAZARD * listed.count(each.kind) <= len(families),
        )
        for each in answer.caution
    )


def _cause(cause: CauseAnswer, answer: Answer) -> CauseView:
    record, where = "; ".join(say_record(cause)), say_where(cause, family_met(answer))
    also = f"also noted as {', '.join(cause.spellings)}" if cause.spellings else ""
    told = [record, where] if cause.why else []
    return CauseView(
        cause=cause,
        share=say_share(cause.probability),
        why=cause.why or "; ".join(filter(None, (record, where))),
        against=_against(cause),
        facts=tuple(filter(None, (cause.board, *told, also))),
    )


def _against(cause: CauseAnswer) -> str:
    """Say what speaks against a cause; that no case was fixed is a fact about it, nothing against it."""
    against = f"against it: {cause.against}" if cause.against else ""
    cases = "the one such case was not" if cause.cases == 1 else f"none of {cause.cases:,} cases was"
    return "; ".join(filter(None, (against, "" if cause.fixed else f"{cases} fixed")))


def _other(answer: Answer) -> tuple[tuple[str, str], ...]:
    others = [("other causes in this notebook", answer.other_causes)] if answer.other_causes > 0 else []
    return tuple(
        (what, say_share(share))
        for what, share in (*others, ("a cause not in this notebook yet", answer.not_in_notebook))
    )


def _steps(answer: Answer, state: SearchState) -> tuple[Step, ...]:
    """Return the checks in order, with the opening of the set before the first that is inside it."""
    steps: list[Step] = []
    by_name = {cause.root_cause: cause for cause in answer.causes}
    noted = dict(state.noted)
    family = family_met(answer)
    opened = answer.already_open
    for check in answer.checks:
        if check.inside and not opened:
            opened = True
            likely = answer.families[0].chassis_family if answer.families else ""
            doubt = likely and not answer.reading.family and not answer.opening_assumed
            what = f"Open the set, if it is {likely}" if doubt else "Open the set"
            steps.append(
                Step(what=what, minutes=say_minutes(answer.opening_min), assumed=answer.opening_assumed)
            )
        cause = by_name.get(check.root_cause)
        where = _origin(cause, family, answer) if cause else ""
        steps.append(
            Step(
                what=check.check or f"Look for it: {check.root_cause}",
                minutes=say_minutes(check.minutes),
                assumed=check.assumed,
                cause=check.root_cause,
                share=say_share(check.probability),
                notes=tuple(filter(None, (where, check.note))),
                reading=noted.get(check.root_cause, ""),
            )
        )
    return tuple(steps)


def _origin(cause: CauseAnswer, family: str, answer: Answer) -> str:
    """Say where a check comes from, where that is another family than the set's or the set's is guessed."""
    if family:
        return "" if family in dict(cause.by_family) else say_where(cause, family)
    return say_where(cause, "").replace("seen in", "in", 1) if len(answer.families) > 1 else ""


def _times(answer: Answer, state: SearchState, bench: Bench) -> tuple[tuple[tuple[str, str], ...], str]:
    """Return the times to expect, each with its label, and the price to tell the owner."""
    said: list[tuple[str, str]] = []
    if answer.expected_minutes is not None and not state.found:
        if not answer.quote_condition:
            said.append(("These checks find it", say_share(sum(each.probability for each in answer.checks))))
        said.append(("Checking takes, on average", say_about(answer.expected_minutes)))
    time = answer.bench_time
    if time is None:
        return tuple(said), ""
    low, high = say_about(time.low), say_about(time.high)
    said.append(("Whole job, for the quote", say_about(time.median)))
    if low != high:
        said.append(("9 jobs in 10 take", f"{low} to {high}"))
    try:
        price = quote(time, load_settings(bench.notebook.root))
    except NoteError:
        price = None  # the family page says what is wrong in shop.toml
    return tuple(said), price.sentence if price else ""
