"""What is shown of an answer: decided here once, printed by the page and by the terminal."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from kb.errors import NoteError
from kb.settings import load_settings
from search.answering.advice import may_ask_of_flashes, smells_of_gas
from search.answering.answer import Answer, CaseHit, CauseAnswer, Question
from search.answering.knowledge import Knowledge
from search.bench import Bench
from search.planning.checks import Check
from search.planning.quote import quote
from web.views.heard import Heard, complaint_runs, heard_in, warnings_for
from web.views.owner_advice import advise_owner
from web.views.state import SearchState
from web.views.wording import Groups, say_about, say_minutes, say_share, say_where

# All chosen by us.
CAUSES_FIRST, CAUSES_NEXT = 3, 15  # the first fill a telephone's screen; the next are read at times
CHECKS_SHOWN = 8  # a morning's work; the rest is folded away
QUESTIONS_SHOWN = 3  # an owner's patience
BLINKING = "blinking light"  # the question of the vocabulary that asks for flashes
RARE_HAZARD = 6  # a hazard that at most one family in so many lists is not expected, so it is spelt out


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step at the bench: a check, or opening the set (cause is "").

    minutes: said, with the time; assumed: no time is recorded. notes: what to know of it. reading: noted.
    """

    what: str
    minutes: str
    assumed: bool
    cause: str = ""
    share: str = ""
    notes: tuple[str, ...] = ()
    reading: str = ""


@dataclass(frozen=True, kw_only=True)
class AnswerView:
    """What is shown of one answer to what `state` asks. root: the notebook's folder, where shop.toml is."""

    answer: Answer
    state: SearchState
    knowledge: Knowledge
    root: Path

    @cached_property
    def complaint(self) -> Sequence[tuple[str, str]]:
        """The owner's words, each stretch with why it was left out: "denied", "past", "" for not."""
        return complaint_runs(self.answer.reading)

    @cached_property
    def heard(self) -> Sequence[Heard]:
        """What was understood."""
        return heard_in(self.answer, self.state, self.knowledge)

    @property
    def warnings(self) -> Sequence[str]:
        """What to know before trusting the answer."""
        return warnings_for(self.answer, self.state, self.knowledge, asks_flashes=self.asks_flashes)

    @property
    def spelt_out(self) -> list[str]:
        """The likely hazards that few families list: their sentences stand on the first screen."""
        families = self.knowledge.families.values()
        listed = [kind for family in families for kind in family.caution]
        likely = [each.kind for each in self.answer.caution if each.likely]
        return [kind for kind in likely if RARE_HAZARD * listed.count(kind) <= len(families)]

    @cached_property
    def family_met(self) -> str:
        """The family that was said where any of the causes was met in it, else ""."""
        family = self.answer.reading.family
        return family if any(family in dict(cause.by_family) for cause in self.answer.causes) else ""

    @property
    def other(self) -> list[tuple[str, str]]:
        """What is beyond the causes listed, with its share."""
        known, new = self.answer.other_causes, self.answer.not_in_notebook
        others = [("other causes in this notebook", say_share(known))] if known > 0 else []
        return [*others, ("a cause not in this notebook yet", say_share(new))]

    @cached_property
    def found(self) -> CauseAnswer | None:
        """The cause that it proved to be, where it is one of those listed."""
        return next((each for each in self.answer.causes if each.root_cause == self.state.found), None)

    @property
    def family_gone_by(self) -> str:
        """The one family that the answer went by and the found cause was met in, else ""."""
        lines = (*self.answer.before_power, *self.answer.while_open)
        gone_by = {each.if_family for each in lines if each.if_family}
        met = dict(self.found.by_family) if self.found else {}
        return self.answer.reading.family or (
            gone_by.pop() if len(gone_by) == 1 and gone_by <= {*met} else ""
        )

    @property
    def on_phone(self) -> bool:
        """Whether the owner is on the line."""
        return self.state.mode == "phone"

    @cached_property
    def steps(self) -> Sequence[Step]:
        """The checks in order, with the opening of the set before the first that is inside it."""
        answer = self.answer
        steps = [self._check(check) for check in answer.checks]
        inside = next((place for place, check in enumerate(answer.checks) if check.inside), None)
        if inside is not None and not answer.already_open:
            likely = answer.families[0].chassis_family if answer.families else ""
            doubt = likely and not answer.reading.family and not answer.opening_assumed
            what = f"Open the set, if it is {likely}" if doubt else "Open the set"
            minutes = say_minutes(answer.opening_min)
            steps.insert(inside, Step(what=what, minutes=minutes, assumed=answer.opening_assumed))
        return steps

    def _check(self, check: Check) -> Step:
        cause = next((each for each in self.answer.causes if each.root_cause == check.root_cause), None)
        return Step(
            what=check.check or f"Look for it: {check.root_cause}",
            minutes=say_minutes(check.minutes),
            assumed=check.assumed,
            cause=check.root_cause,
            share=say_share(check.probability),
            notes=tuple(filter(None, (self._origin(cause) if cause else "", check.note))),
            reading=dict(self.state.noted).get(check.root_cause, ""),
        )

    def _origin(self, cause: CauseAnswer) -> str:
        """Say where a check comes from, where that is another family than the set's, or nobody knows that."""
        if family := self.family_met:
            return "" if family in dict(cause.by_family) else say_where(cause, family)
        return say_where(cause, "").replace("seen in", "in", 1) if len(self.answer.families) > 1 else ""

    @cached_property
    def next(self) -> Step | None:
        """The next check, None when there is none."""
        return next((step for step in self.steps if step.cause), None)

    @cached_property
    def owner(self) -> Groups:
        """What to tell the owner."""
        return advise_owner(self.answer, self.knowledge.vocabulary)

    @property
    def may_ask(self) -> bool:
        """Whether the owner may be asked anything."""
        return not smells_of_gas(self.knowledge, self.answer.reading)

    @cached_property
    def asks_flashes(self) -> bool:
        """Whether the owner may be asked to look at flashes."""
        kinds = [each.kind for each in self.answer.caution]
        may = may_ask_of_flashes(self.knowledge, self.answer.reading, kinds)
        return may and not self.answer.unmet_device

    @cached_property
    def questions(self) -> Sequence[Question]:
        """What to ask the owner."""
        asked = self.answer.questions if self.may_ask else ()
        return [each for each in asked if self.asks_flashes or each.concept != BLINKING][:QUESTIONS_SHOWN]

    @cached_property
    def times(self) -> Sequence[tuple[str, str]]:
        """What a quote is made from, each time with its label."""
        answer, said = self.answer, []
        if answer.expected_minutes is not None and not self.state.found:
            if not answer.quote_condition:
                found = sum(each.probability for each in answer.checks)
                said.append(("These checks find it", say_share(found)))
            said.append(("Checking takes, on average", say_about(answer.expected_minutes)))
        if time := answer.bench_time:
            low, high = say_about(time.low), say_about(time.high)
            said.append(("Whole job, for the quote", say_about(time.median)))
            said += [("9 jobs in 10 take", f"{low} to {high}")] if low != high else []
        return said

    @cached_property
    def price(self) -> str:
        """The sentence on the price for the owner, or ""."""
        try:
            price = quote(self.answer.bench_time, load_settings(self.root))
        except NoteError:
            return ""  # the family page says what is wrong in shop.toml
        return price.sentence if price else ""

    @property
    def cases(self) -> Sequence[CaseHit]:
        """The past cases to show: none of other devices, which mislead."""
        return () if self.answer.unmet_device else self.answer.cases


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
    """Return what is shown of an answer to what `state` asks."""
    return AnswerView(answer=answer, state=state, knowledge=bench.knowledge, root=bench.notebook.root)
