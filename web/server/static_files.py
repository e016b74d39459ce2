"""Styles, scripts and drawings: fetched once, then kept by the browser until they change."""

import zlib
from pathlib import Path

from flask import Flask, Response, request

KEPT = "public, max-age=31536000, immutable"  # a year: RFC 9111 and RFC 8246


def keep_static_files(app: Flask) -> None:
    """Put a checksum into the address of each static file, and let browsers keep what has one.

    Asked again for each page, the styles alone hold up its first paint (tests.benchmarks.web_times).
    """
    files = Path(app.static_folder or "").iterdir()
    sums = {path.name: f"{zlib.crc32(path.read_bytes()):08x}" for path in files}

    @app.url_defaults
    def add_checksum(endpoint: str, values: dict[str, object]) -> None:
        if endpoint == "static":
            values["v"] = sums.get(str(values.get("filename")))

    @app.after_request
    def let_keep(response: Response) -> Response:
        if request.endpoint == "static" and response.status_code < 400 and "v" in request.args:
            response.headers["Cache-Control"] = KEPT
        return response
