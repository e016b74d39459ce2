"""Other computers of the shop: signing in with the passphrase, and opening pages on a telephone."""

import io
from urllib.parse import urlsplit

import segno
from flask import Blueprint, current_app, flash, redirect, render_template, request, session
from werkzeug.wrappers import Response

from web.server.access import NOT_SET, Access, client_address

blueprint = Blueprint("network", __name__)

LONGEST_INITIALS = 20  # characters


def own_path(text: str) -> str:
    """Return a path if it is one of this server, else "/"."""
    parts = urlsplit(text)
    safe = text.startswith("/") and not text.startswith(("//", "/\\")) and not parts.netloc
    return text if safe and text.isprintable() else "/"


@blueprint.get("/sign-in")
def sign_in(trouble: str = "") -> str:
    """Ask for the passphrase."""
    access: Access = current_app.extensions["access"]
    following = own_path(request.values.get("next", "/"))
    trouble = trouble or ("" if access.is_set else NOT_SET)
    return render_template("sign_in.html", following=following, trouble=trouble)


@blueprint.post("/sign-in")
def enter() -> Response | tuple[str, int]:
    """Let the browser write, if the passphrase is right."""
    access: Access = current_app.extensions["access"]
    let_in = access.enter(client_address(), request.form.get("passphrase", ""))
    if let_in is None:
        return sign_in("Too many wrong tries from here. Wait a quarter of an hour."), 429
    if not let_in:
        return sign_in("That is not the passphrase." if access.is_set else NOT_SET), 403
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


@blueprint.get("/phone")
def phone() -> str:
    """Say how a telephone opens these pages."""
    return render_template("phone.html", passphrase=current_app.extensions["access"].is_set)


@blueprint.get("/phone.svg")
def code() -> tuple[bytes, dict[str, str]]:
    """Draw the address as a QR code (ISO/IEC 18004)."""
    drawn, made = io.BytesIO(), segno.make(current_app.config["SHOP_ADDRESS"] or "benchlore", error="m")
    made.save(drawn, kind="svg", scale=6, border=4, light="#fff", xmldecl=False)
    return drawn.getvalue(), {"Content-Type": "image/svg+xml; charset=utf-8"}
