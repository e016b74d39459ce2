"""The telephone on the shop's network: its address as a QR code, and what its home screen needs."""

import io
from functools import lru_cache

import segno
from flask import Blueprint, Response, current_app, jsonify, render_template, url_for

from web.server.access import Access

blueprint = Blueprint("phone", __name__)


@lru_cache(maxsize=8)
def qr_svg(text: str) -> str:
    """Return a QR code (ISO/IEC 18004) as a picture."""
    buffer = io.BytesIO()
    segno.make(text, error="m").save(buffer, kind="svg", scale=6, border=4, light="#fff", xmldecl=False)
    return buffer.getvalue().decode("utf-8")


@blueprint.get("/phone")
def show() -> str:
    """Say how a telephone opens these pages."""
    access: Access = current_app.extensions["access"]
    return render_template("phone.html", address=current_app.config["SHOP_ADDRESS"], passphrase=access.is_set)


@blueprint.get("/phone.svg")
def code() -> Response:
    """Draw the address as a QR code."""
    return Response(qr_svg(current_app.config["SHOP_ADDRESS"] or "benchlore"), mimetype="image/svg+xml")


@blueprint.get("/app.webmanifest")
def manifest() -> Response:
    """Describe the pages to a telephone's home screen (W3C, Web Application Manifest)."""
    icon = {"src": url_for("static", filename="mark.svg"), "sizes": "any", "type": "image/svg+xml"}
    response = jsonify(
        name="benchlore", short_name="benchlore", start_url="/", scope="/", display="standalone",
        background_color="#ffffff", theme_color="#1d1d1b", icons=[icon],
    )  # fmt: skip
    response.mimetype = "application/manifest+json"
    return response
