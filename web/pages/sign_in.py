"""Signing in with the shop's passphrase, and out again."""

from urllib.parse import urlsplit

from flask import Blueprint, current_app, flash, redirect, render_template, request, session
from werkzeug.wrappers import Response

from web.server.access import NOT_SET, Access, client_address

blueprint = Blueprint("sign_in", __name__)

LONGEST_INITIALS = 20  # characters


def own_path(text: str) -> str:
    """Return a path of this server to go on to; "/" for anything else."""
    parts = urlsplit(text)
    safe = text.startswith("/") and not text.startswith(("//", "/\\")) and not parts.netloc
    return text if safe and text.isprintable() else "/"


@blueprint.get("/sign-in")
def show(trouble: str = "") -> str:
    """Ask for the passphrase."""
    access: Access = current_app.extensions["access"]
    following = own_path(request.values.get("next", "/"))
    return render_template(
        "sign_in.html", following=following, trouble=trouble or ("" if access.is_set else NOT_SET)
    )


@blueprint.post("/sign-in")
def enter() -> Response | tuple[str, int]:
    """Let the browser write, if the passphrase is right."""
    access: Access = current_app.extensions["access"]
    client = client_address()
    if not access.may_try(client):
        return show("Too many wrong tries from here. Wait a quarter of an hour."), 429
    if not access.enter(client, request.form.get("passphrase", "")):
        return show("That is not the passphrase." if access.is_set else NOT_SET), 403
    session.clear()
    session.permanent = True
    session["access"] = access.token
    session["tech"] = request.form.get("tech", "").strip()[:LONGEST_INITIALS]
    return redirect(own_path(request.form.get("next", "/")))


@blueprint.post("/sign-out")
def leave() -> Response:
    """Forget that this browser may write."""
    session.clear()
    flash("Signed out.")
    return redirect("/")
