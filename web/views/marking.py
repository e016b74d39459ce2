"""What the templates can say beyond plain text: figures, lamps, and the words that match."""

from collections.abc import Collection

from flask import Flask
from markupsafe import Markup, escape

from kb.errors import say_count
from search.reading.concepts import ConceptFinder
from search.scoring.highlight import match_spans
from web.views.lamps import lamp_row
from web.views.wording import group_advice, say_minutes, say_share


def mark(text: str, *, terms: Collection[str], finder: ConceptFinder) -> Markup:
    """Return `text` escaped, with the stretches that the searched terms stand for in <mark>."""
    parts: list[Markup] = []
    done = 0
    for start, end in match_spans(text, terms, finder):
        parts += [escape(text[done:start]), Markup("<mark>"), escape(text[start:end]), Markup("</mark>")]
        done = end
    parts.append(escape(text[done:]))
    return Markup("").join(parts)


def register_wording(app: Flask) -> None:
    """Give the templates the filters of this module."""
    app.jinja_env.filters.update(
        minutes=say_minutes, share=say_share, count=say_count, blink_marks=lamp_row, by_family=group_advice
    )
