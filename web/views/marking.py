"""What the templates can say beyond plain text: figures, lamps, and the words that match."""

from collections.abc import Collection

from flask import Flask
from markupsafe import Markup, escape

from kb.notes.blinks import BlinkPattern
from kb.notes.rendering import render_markdown
from search.reading.concepts import ConceptFinder
from search.scoring.highlight import match_spans
from web.views import wording
from web.views.lamps import lamp_row, readings
from web.views.state import family_address, say_amount


def mark(text: str, *, terms: Collection[str], finder: ConceptFinder) -> Markup:
    """Return `text` escaped, with the stretches that the searched terms stand for in <mark>."""
    parts: list[Markup] = []
    done = 0
    for start, end in match_spans(text, terms, finder):
        parts += [escape(text[done:start]), Markup("<mark>{}</mark>").format(text[start:end])]
        done = end
    return Markup("").join([*parts, escape(text[done:])])


def register_wording(app: Flask) -> None:
    """Give the templates the words, drawings and addresses of this folder."""
    app.jinja_env.filters.update(
        wording.FILTERS, amount=say_amount, blink_marks=lamp_row, blink_pattern=BlinkPattern.parse,
        lamp_steps=readings, markdown=lambda text: Markup(render_markdown(text)),
    )  # fmt: skip
    app.jinja_env.globals.update(family_address=family_address, words=wording)
