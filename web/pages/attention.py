"""What needs attention: every note that cannot be fully read, with its line, the trouble and the remedy."""

from itertools import groupby

from flask import Blueprint, render_template

from kb.storage.writing import removed_cases
from search.causes.similar_causes import similar_causes
from web.server.current import desk

blueprint = Blueprint("attention", __name__)

NOTES_SHOWN = 200  # chosen by us: more than a day's mending; the command line lists them all


@blueprint.get("/attention")
def attention() -> str:
    """List the notebook's problems by file."""
    problems = desk().bench.attention.problems()
    by_file = [(file, list(found)) for file, found in groupby(problems, key=lambda problem: problem.file)]
    return render_template(
        "attention.html",
        by_file=by_file[:NOTES_SHOWN],
        notes=len(by_file),
        count=len(problems),
        pairs=similar_causes(desk().bench.snapshot.table),
        removed=removed_cases(desk().notebook),
    )
