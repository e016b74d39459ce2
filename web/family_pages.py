"""The families that the notebook knows."""

from __future__ import annotations

from flask import Blueprint, render_template

from web.current import desk

blueprint = Blueprint("family_pages", __name__)


@blueprint.get("/families/")
def families() -> str:
    """List the families by device and make."""
    notes = desk().notebook.families().values()
    ordered = sorted(notes, key=lambda note: (note.device, note.make, note.chassis_family))
    return render_template("families.html", families=ordered)
