"""What this program holds, how sure its answers have proved to be, and what is not installed."""

from __future__ import annotations

from flask import Blueprint, render_template

from web.current import desk

blueprint = Blueprint("about", __name__)


@blueprint.get("/about")
def about() -> str:
    """Say in plain words what the answers rest on."""
    return render_template("about.html", holdings=desk().bench.holdings())
