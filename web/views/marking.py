"""What templates show beyond plain text: lamps, and marks on the words that match."""

from collections.abc import Collection, Sequence
from functools import lru_cache

from flask import Flask
from markupsafe import Markup, escape

from kb.notes.blinks import BlinkPattern, Group
from kb.notes.rendering import render_markdown
from search.reading.concepts import ConceptFinder
from search.reading.plain_form import CONCEPT_MARK
from search.reading.text import Span, tokenise
from web.views import wording
from web.views.state import family_address, say_amount

# Drawing units, chosen by us: a pause is wider than the gap between flashes.
SHORT, LONG, GAP, PAUSE = 9.0, 22.0, 4.0, 15.0
MOST_FLASHES = 24  # chosen by us: nobody counts a longer row of lamps at a glance
# Milliseconds, chosen by us. A short flash and its gap make 1.7 flashes a second, well below the three a
# second that WCAG 2.2, success criterion 2.3.1, allows; test_replay_stays_below_three_flashes_a_second tells.
SHORT_MS, LONG_MS, GAP_MS = 300, 900, 300
PAUSE_MS = 1000  # between groups
END_MS = 2000  # before the pattern starts again


def mark(text: str, *, terms: Collection[str], finder: ConceptFinder) -> Markup:
    """Return `text` escaped, with the places of searched terms in <mark>."""
    parts: list[Markup] = []
    done = 0
    for start, end in match_spans(text, terms, finder):
        parts += [escape(text[done:start]), Markup("<mark>{}</mark>").format(text[start:end])]
        done = end
    return Markup("").join([*parts, escape(text[done:])])


def match_spans(text: str, terms: Collection[str], finder: ConceptFinder) -> list[Span]:
    """Return the spans of `text` that match searched terms.

    terms: stems and concept terms ("=no power") as in `Reading.terms`.
    Returns: ascending spans that do not overlap; neighbouring words of one concept are one span.
    """
    merged: list[Span] = []
    for start, end, term in _places(text, finder):
        if term not in terms:
            continue
        if merged and start < merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return merged


@lru_cache(maxsize=2_048)  # the same cases and causes are shown again after every press
def _places(text: str, finder: ConceptFinder) -> list[tuple[int, int, str]]:
    """Return where each term stands in a text, in order."""
    tokens = tokenise(text)
    ideas = [
        (tokens[hit.start_token].start, tokens[hit.end_token - 1].end, CONCEPT_MARK + hit.concept)
        for hit in finder.find(tokens)
    ]
    return sorted([*((token.start, token.end, token.stem) for token in tokens), *ideas])


@lru_cache(maxsize=256)  # most notebooks have fewer patterns
def lamp_row(pattern: str | BlinkPattern | None) -> tuple[list[tuple[float, float]], float] | None:
    """Return (left edge, width) of each lamp of a pattern's first reading, and the width of the row."""
    try:
        groups = BlinkPattern.parse(str(pattern or "")).alternatives[0]
    except ValueError:
        return None
    if sum(group.count for group in groups) > MOST_FLASHES:
        return None
    lamps: list[tuple[float, float]] = []
    x = 0.0
    for group in groups:
        width = LONG if group.length == "long" else SHORT
        lamps += [(x + place * (width + GAP), width) for place in range(group.count)]
        x += group.count * (width + GAP) + PAUSE - GAP
    return lamps, x - PAUSE


def flash_steps(groups: Sequence[Group]) -> list[tuple[int, int]]:
    """Return (lit, dark) milliseconds for each flash of one reading of a pattern."""
    counts = [(group.count, LONG_MS if group.length == "long" else SHORT_MS) for group in groups]
    steps = [(lit, gap) for count, lit in counts for gap in [GAP_MS] * (count - 1) + [PAUSE_MS]]
    return [*steps[:-1], (steps[-1][0], END_MS)]


def readings(pattern: BlinkPattern) -> list[tuple[str, list[tuple[int, int]]]]:
    """Return each reading of a pattern ("3 or 4" has two): its spelling and the steps of a lamp."""
    return [(str(count), flash_steps(count.alternatives[0])) for count in pattern.counts]


def register_wording(app: Flask) -> None:
    """Give the templates the words, drawings and addresses of this folder."""
    app.jinja_env.filters.update(
        wording.FILTERS, amount=say_amount, blink_marks=lamp_row, blink_pattern=BlinkPattern.parse,
        lamp_steps=readings, markdown=lambda text: Markup(render_markdown(text)),
    )  # fmt: skip
    app.jinja_env.globals.update(family_address=family_address, words=wording)
