"""What to tell the owner on the telephone: first for the hazards, then from the family notes."""

import re
from collections.abc import Iterable, Sequence
from typing import Any

from kb.terms import Vocabulary, fold
from search.answering.advice import SPARKING
from search.answering.answer import Advice, Answer, Caution
from web.views.wording import Groups, group_advice

SENTENCES = 3  # chosen by us: as many as an owner remembers, beside those for hazards
EVERYDAY = ("mains", "mains adaptor", "wired in")  # hazards whose sentences come after the family notes
# For a set without any hazard. Common practice, no source.
OF_ANY_SET = ("Leave it off until it is here, and bring what belongs to it.",)
SENTENCE_END = re.compile(r"(?<=[.!?])\s+")
# Finds sentences that tell the owner to try the set; "never plug it in again" does not.
TRYING = re.compile(
    r"(?i)(?<!not )(?<!n't )(?<!never )(?<!to )(?<!every )"
    r"\b(?:try|fit|(?:plug|switch|turn)(?: it| the \w+)?(?: back)? (?:in|on))\b"
)
LIT_BY_A_SPARK = ("gas", "petrol")  # gravest first


def advise_owner(caution: Sequence[Caution], advice: Iterable[Advice], vocabulary: Vocabulary) -> Groups:
    """Return what to tell the owner: for grave hazards, then for any family, then by family."""
    grave, everyday, spark = _of_hazards(caution, vocabulary)
    barred = [*([SPARKING] if spark else ()), *([TRYING] if grave else ())]
    groups = {
        family: [line for line in lines if not any(each.search(line) for each in barred)]
        for family, lines in group_advice(advice)
    }
    shared = groups.pop("", [])  # of the family that was said, else of all the likely ones
    if len(groups) > 1:
        first, *others = ({_plain(line): line for line in lines} for lines in groups.values())
        shared = [line for plain, line in first.items() if all(plain in other for other in others)]
    general = (*everyday[:1], *shared, *everyday[1:])[:SENTENCES]
    always = _once((*grave, *general, *shared)) or OF_ANY_SET
    differing = ((family, _once(lines, always)) for family, lines in groups.items())
    return [("", always), *((family, lines) for family, lines in differing if lines)]


def answer_as_json(answer: Answer, vocabulary: Vocabulary) -> dict[str, Any]:
    """Return an answer as JSON, with what to tell the owner as on the page."""
    owner = advise_owner(answer.caution, answer.tell_owner, vocabulary)
    told = [Advice(line, family) for family, lines in owner for line in lines]
    return {**answer.as_json(), "tell_owner": [str(each) for each in told]}


def _of_hazards(caution: Sequence[Caution], vocabulary: Vocabulary) -> tuple[list[str], list[str], bool]:
    """Return the sentences for grave hazards, those for everyday ones, and whether a spark is a danger.

    A hazard that is only possible has none, unless a spark could light it.
    """
    said = [each.kind for each in caution if each.likely or each.kind in LIT_BY_A_SPARK]
    known = [term for kind in said if (term := vocabulary.term("caution", kind))]
    order = [*(kind for kind in said[:1] if kind == "carbon monoxide"), *LIT_BY_A_SPARK, *said]
    known.sort(key=lambda term: order.index(term.concept))
    spark = any(term.concept in LIT_BY_A_SPARK for term in known)
    replaced = {kind for term in known for kind in term.instead_of} - {*order[:1]}
    lines = [
        (term.concept in EVERYDAY, line)
        for term in known
        if term.concept not in replaced
        for line in term.tell_owner
        if term.concept in LIT_BY_A_SPARK or not (spark and SPARKING.search(line))
    ]
    return [line for usual, line in lines if not usual], [line for usual, line in lines if usual], spark


def _once(lines: Iterable[str], before: Iterable[str] = ()) -> tuple[str, ...]:
    """Drop sentences said in an earlier line or in `before`, but keep one that a following "It" refers to."""
    said = {_plain(each) for line in before for each in SENTENCE_END.split(line)}
    kept: list[str] = []
    for line in lines:
        sentences = SENTENCE_END.split(line)
        new = [each for each in sentences if _plain(each) not in said]
        if any(each.startswith(("It ", "They ")) for each in new):
            new = sentences
        said |= {*map(_plain, new)}
        kept += [" ".join(new)] if new else []
    return tuple(kept)


def _plain(line: str) -> str:
    return fold(line).rstrip(".")
