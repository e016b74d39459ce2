"""What the notebook holds, how often answers were right, and what is not installed."""

from flask import Blueprint, redirect, render_template, url_for
from werkzeug.wrappers import Response

from search.index.documents import MOST_SENTENCES
from search.reading.sentences import load_sentences
from search.reading.vectors import load_meaning
from web.server.desk import desk

blueprint = Blueprint("about", __name__)

LOOK_AGAIN_S = 3  # until a page that waits for a measurement asks again; chosen by us


@blueprint.get("/about")
def about() -> tuple[str, dict[str, str]]:
    """Say what the answers rest on."""
    bench, measuring = desk().bench, desk().measuring
    measuring.measure_if_quick()
    # In a larger notebook sentences are not compared, so their model is not missing there.
    has_sentences = desk().bench.knowledge.table.size > MOST_SENTENCES or load_sentences() is not None
    page = render_template(
        "about.html", bench=bench, measuring=measuring, has_meaning=load_meaning() is not None,
        has_sentences=has_sentences,
    )  # fmt: skip
    return page, {"Refresh": str(LOOK_AGAIN_S)} if measuring.at_work else {}


@blueprint.post("/about/measure")
def measure() -> Response:
    """Begin to measure how good the answers are."""
    desk().measuring.start()
    return redirect(url_for("about.about"))
