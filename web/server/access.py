"""Who may write: this computer always, others on the network once they gave the passphrase.

The hash of the passphrase is in the user's own settings, never in the notebook: a stranger's notebook must
not decide who may write.
"""

import hashlib
import hmac
import ipaddress
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path

from flask import Flask, abort, redirect, request, session, url_for
from platformdirs import user_config_path
from werkzeug.security import check_password_hash, generate_password_hash
from werkzeug.wrappers import Response

from kb.files import write_private
from web.server.security import SAFE_METHODS, ip_of, is_this_computer

SHORTEST = 8  # characters of a passphrase; chosen by us (test_access)
TRIES, PER_SECONDS = 5, 900.0  # chosen by us: slips cost nothing, a thousand guesses two days
MOST_CLIENTS = 10_000  # addresses remembered; the oldest is forgotten first
NOT_SET = (
    "Only the bench computer itself may write until a passphrase is set. Set one there with "
    "`benchlore passphrase`, then open this page again."
)
SIGN_IN = "Sign in with the shop's passphrase first, at /sign-in; what you typed is kept in this browser."
OPEN_TO_ALL = frozenset({"static", "network.sign_in", "network.enter", "network.leave"})


def passphrase_file() -> Path:
    """Return the file with the hash of the passphrase."""
    return Path(user_config_path("benchlore", appauthor=False)) / "passphrase"


def keep_hash(path: Path, passphrase: str) -> None:
    """Keep the hash (scrypt, RFC 7914) of a passphrase; "" deletes it. Raises: OSError."""
    path.unlink(missing_ok=True)
    if passphrase:
        write_private(path, generate_password_hash(passphrase))


class Access:
    """Checks passphrases, and remembers who failed. Safe between threads."""

    def __init__(
        self, kept_hash: str = "", *, private: bool = False, clock: Callable[[], float] = time.monotonic
    ) -> None:
        """Take the hash of the passphrase, "" if none is set. private: ask for it before reading, too."""
        self.private, self.is_set, self._hash, self._clock = private, bool(kept_hash), kept_hash, clock
        # A session holds this once signed in; a new passphrase changes it.
        self.token = hmac.new(kept_hash.encode(), b"signed in", hashlib.sha256).hexdigest()
        self._failed: OrderedDict[str, list[float]] = OrderedDict()
        self._lock = threading.Lock()

    def enter(self, client: str, passphrase: str) -> bool | None:
        """Tell whether a passphrase is right; None if the client has no try left. A wrong one costs a try."""
        with self._lock:  # counted before checking, so that sending many at once gains nothing
            since = self._clock() - PER_SECONDS
            recent = [when for when in self._failed.get(client, ()) if when > since]
            if len(recent) >= TRIES:
                return None
            if not self.is_set:
                return False
            self._failed[client] = [*recent, self._clock()]
            self._failed.move_to_end(client)
            if len(self._failed) > MOST_CLIENTS:
                self._failed.popitem(last=False)
        if not check_password_hash(self._hash, passphrase[:1_000]):
            return False
        with self._lock:
            self._failed.pop(client, None)
        return True


def client_address() -> str:
    """Return the client for counting tries; a whole IPv6 network (64 bits) is one client."""
    found = ip_of(request.remote_addr or "")
    if found is not None and found.version == 6:
        return str(ipaddress.ip_network(f"{found}/64", strict=False))
    return str(found or "?")


def guard(app: Flask, access: Access) -> None:
    """Ask other computers for the passphrase before they write, and if private before they read."""
    app.extensions["access"] = access

    def signed_in() -> bool:
        return access.is_set and hmac.compare_digest(str(session.get("access", "")), access.token)

    def may_write() -> bool:
        return is_this_computer(request.remote_addr) or signed_in()

    @app.before_request
    def ask_for_passphrase() -> Response | None:
        reads = request.method in SAFE_METHODS
        if may_write() or request.endpoint in OPEN_TO_ALL or (reads and not access.private):
            return None
        if not access.is_set:
            abort(403, NOT_SET)
        if reads and not request.path.startswith("/api/"):
            return redirect(url_for("network.sign_in", next=request.full_path.rstrip("?")))
        abort(401, SIGN_IN)

    @app.context_processor
    def for_every_page() -> dict[str, object]:
        return {"signed_in": signed_in(), "may_write": may_write()}
