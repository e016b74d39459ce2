"""The headers of every response, and requests that are refused before a page sees them."""

import ipaddress
import zlib
from collections.abc import Collection
from pathlib import Path
from urllib.parse import urlsplit

from flask import Flask, Response, abort, request

# No inline script or style is allowed: one that a note smuggles into a page cannot run.
POLICY = "default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
KEPT = "public, max-age=31536000, immutable"  # a year: RFC 9111 and RFC 8246
REACHED_AT = "benchlore.reached_at"  # key of the address at which this computer was reached
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})


def ip_of(text: str) -> ipaddress.IPv4Address | ipaddress.IPv6Address | None:
    """Return the IP address of a text, IPv4 if it is that in IPv6 form; None for other texts."""
    try:
        found = ipaddress.ip_address(text)
    except ValueError:
        return None
    return getattr(found, "ipv4_mapped", None) or found


def is_this_computer(host: str | None) -> bool:
    """Tell whether a name or an address means this computer itself."""
    found = ip_of(host or "")
    return found.is_loopback if found else (host or "").lower() == "localhost"


def is_expected_host(host: str, *, reached_at: str, names: Collection[str] = ()) -> bool:
    """Tell whether a Host header names this server, by a known name or the address it was reached at."""
    try:
        name = (urlsplit(f"//{host}").hostname or "").rstrip(".").lower()
    except ValueError:
        return False
    here = is_this_computer(name) or name in map(str.lower, names)
    return here or (ip_of(name) is not None and ip_of(name) == ip_of(reached_at))


def is_foreign(origin: str, fetch_site: str, host: str) -> bool:
    """Tell whether a browser says that a write comes from another site.

    origin, fetch_site: the headers Origin and Sec-Fetch-Site, "" if absent, as programs send none. Under the
    referrer policy "no-referrer" browsers send the origin "null" with a form's own post (Fetch standard,
    "append a request Origin header"); then Sec-Fetch-Site decides.
    """
    if fetch_site and fetch_site not in ("same-origin", "none"):
        return True
    if origin == "null":
        return fetch_site != "same-origin"
    return bool(origin) and origin.lower() != f"http://{host}".lower()  # this server speaks no https


def protect(app: Flask, *, host_names: Collection[str]) -> None:
    """Refuse foreign hosts and origins, and send the right headers with each response.

    Static files have a checksum in their address, and browsers keep them until it changes. Asking for them
    again with each page would delay its first paint (tests.benchmarks.web_times).
    """
    files = Path(app.static_folder or "").iterdir()
    sums = {path.name: f"{zlib.crc32(path.read_bytes()):08x}" for path in files}

    @app.url_defaults
    def add_checksum(endpoint: str, values: dict[str, object]) -> None:
        if endpoint == "static":
            values["v"] = sums.get(str(values.get("filename")))

    @app.before_request
    def turn_away_strangers() -> None:
        reached_at = str(request.environ.get(REACHED_AT, ""))
        if not is_expected_host(request.host, reached_at=reached_at, names=host_names):
            abort(421, "The server does not answer to this address.")
        if request.method not in SAFE_METHODS and is_foreign(
            request.headers.get("Origin", ""), request.headers.get("Sec-Fetch-Site", ""), request.host
        ):
            abort(403, "This request comes from another site, so nothing was changed.")

    @app.after_request
    def add_headers(response: Response) -> Response:
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        if request.endpoint != "static":
            # Pages follow the notes on disk: a stale copy after "back" would mislead.
            response.headers.setdefault("Cache-Control", "no-cache")
        elif "v" in request.args and response.status_code < 400:
            response.headers["Cache-Control"] = KEPT
        return response
