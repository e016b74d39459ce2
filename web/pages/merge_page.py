"""One name for one cause: what would change is shown first, one press changes it."""

from collections.abc import Sequence

import numpy as np
from flask import Blueprint, abort, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from kb.storage.merging import Change
from search.index.case_table import CaseTable
from web.server.current import desk

blueprint = Blueprint("merge_page", __name__)


@blueprint.get("/attention/merge")
def show() -> str:
    """List what merging would change."""
    into, others = asked(request.args.get("into", ""), request.args.getlist("from"))
    return render_template("merge.html", into=into, others=others, changes=merged(into, others, dry_run=True))


@blueprint.post("/attention/merge")
def merge() -> Response:
    """Rewrite the notes."""
    into, others = asked(request.form.get("into", ""), request.form.getlist("from"))
    changes = merged(into, others, dry_run=False)
    flash(f"Changed in {len(changes)} notes: they say “{into}” now.")
    return redirect(url_for("attention.attention"))


def asked(into: str, others: Sequence[str]) -> tuple[str, list[str]]:
    """Return the name to keep and the names to give up, or end the request."""
    into = " ".join(into.split())
    given_up = [other for other in dict.fromkeys(others) if other.strip() and other != into]
    if not into or not given_up:
        abort(400, "Say which name to keep and which to give up.")
    return into, given_up


def merged(into: str, others: Sequence[str], *, dry_run: bool) -> list[Change]:
    """Give the causes in `others` the name `into`, or only list what would change."""
    table = desk().bench.snapshot.table
    spellings, paths = spellings_of(table, others)
    return desk().notes.merge(spellings, into, dry_run=dry_run, paths=paths)


def spellings_of(table: CaseTable, causes: Sequence[str]) -> tuple[list[str], list[str]]:
    """Return every spelling that the notes have of the causes, and the paths of those notes, sorted."""
    codes = [code for code, name in enumerate(table.cause_names) if name in causes]
    rows = np.flatnonzero(table.alive & table.readable & np.isin(table.cause, codes))
    spellings = {table.spelling_names[code] for code in table.spelling[rows].tolist()}
    return sorted(spellings | set(causes)), sorted(table.paths[row] for row in rows.tolist())
