"""What to tell the owner on the telephone: what is true whichever set it is, then what differs."""

from __future__ import annotations

from dataclasses import dataclass

from search.answering.answer import Answer
from web.views.wording import group_advice

SENTENCES = 3  # chosen by us: what an owner remembers of a call
# True of any set, for when the likely families have no sentence in common. Common practice, no source.
OF_ANY_SET = (
    "Switch it off and leave it off: by the plug, or at the fuse board if the plug is wet or out of reach.",
    "Nobody opens it at home. It can give a shock with the plug out.",
    "Bring what it was used with when it failed: the lead, the remote control, the pan.",
)


@dataclass(frozen=True)
class OwnerAdvice:
    """always: sentences true for every likely family. differing: further ones, by family."""

    always: tuple[str, ...]
    differing: tuple[tuple[str, tuple[str, ...]], ...]


def advise_owner(answer: Answer) -> OwnerAdvice:
    """Return what to tell the owner, from the notes of the likely families."""
    groups = dict(group_advice(answer.tell_owner))
    shared = groups.pop("", [])  # of the family that was said
    if len(groups) > 1:
        everywhere = set.intersection(*({_plain(line) for line in lines} for lines in groups.values()))
        shared = [line for line in next(iter(groups.values())) if _plain(line) in everywhere]
    else:
        everywhere = set()
    always = (*shared, *OF_ANY_SET)[:SENTENCES]
    differing = {"": shared[SENTENCES:]}
    for family, lines in groups.items():
        differing[family] = [line for line in lines if _plain(line) not in everywhere]
    return OwnerAdvice(
        always=always,
        differing=tuple((family, tuple(lines)) for family, lines in differing.items() if lines),
    )


def _plain(line: str) -> str:
    return " ".join(line.casefold().split()).rstrip(".")
