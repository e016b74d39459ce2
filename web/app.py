"""The Flask application: pages for the bench and JSON for programs, over one notebook."""

import contextlib
import secrets
from collections.abc import Collection
from pathlib import Path

from flask import Flask, request
from flask_wtf.csrf import CSRFProtect

from kb.errors import NotebookError
from kb.files import read_private, write_private
from search.bench import Bench
from web.api import interface
from web.pages import about, attention, cases, families, import_page, network, pictures, search_page, write_up
from web.server.access import Access, guard
from web.server.desk import Desk, desk
from web.server.errors import register_errors
from web.server.security import protect
from web.views.marking import register_wording
from web.views.state import SearchState

PAGES = (search_page, cases, write_up, families, attention, pictures, import_page, network, about)
# These pages say themselves that the notebook is gone, and keep what was typed; an error page would not.
TYPED_INTO = (
    "write_up.create", "write_up.revise", "families.create", "families.revise", "attention.save_note",
)  # fmt: skip
LARGEST_REQUEST = 1024 * 1024  # bytes; chosen by us: a hundred times a long note
# Forms that may be larger, in bytes; chosen by us. A table of this size has some 10,000 rows, a minute's
# work.
LARGEST_FORMS = {
    "pictures.add": pictures.LARGEST_TOGETHER,
    "write_up.create": pictures.LARGEST_TOGETHER,
    "import_page.upload": 5_000_000,
}
SETTINGS = {
    "MAX_CONTENT_LENGTH": LARGEST_REQUEST,
    "MAX_FORM_MEMORY_SIZE": LARGEST_REQUEST,
    "SESSION_COOKIE_NAME": "benchlore",
    "SESSION_COOKIE_SAMESITE": "Lax",
    "WTF_CSRF_TIME_LIMIT": None,  # a write-up may stay open for a working day
    "SHOP_ADDRESS": "",  # where other computers find these pages
}


def create_app(
    bench: Bench, *, host_names: Collection[str] = (), git: bool = False, access: Access | None = None,
    testing: bool = False,
) -> Flask:  # fmt: skip
    """Build the application for one notebook; it reads no other configuration.

    host_names: see is_expected_host. git: see NoteService. access: by default this computer alone may write.
    """
    app = Flask(__name__)
    app.config.update(SETTINGS, SECRET_KEY=lasting_key(bench.notebook.state_dir), TESTING=testing)
    app.json.sort_keys = False  # type: ignore[attr-defined]
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.jinja_env.globals.update(notebook_name=bench.notebook.root.name, state=SearchState())
    app.extensions["desk"] = Desk(bench, git=git)
    protect(app, host_names=host_names)
    guard(app, access or Access())

    app.before_request(take_large_forms)  # before anything reads the form
    csrf = CSRFProtect(app)
    register_errors(app)
    register_wording(app)
    for module in (*PAGES, interface):
        app.register_blueprint(module.blueprint)
    csrf.exempt(interface.blueprint)  # guarded by content type and Origin instead
    app.before_request(follow_the_notes)
    return app


def take_large_forms() -> None:
    """Let the forms that bring files be larger than other requests."""
    request.max_content_length = LARGEST_FORMS.get(request.endpoint or "", LARGEST_REQUEST)


def follow_the_notes() -> None:
    """Take in changes on disk, except for a static file, which even an error page needs."""
    if request.endpoint == "static":
        return
    try:
        desk().bench.refresh()
    except NotebookError as error:
        root = desk().notebook.root
        if request.method == "POST" and request.endpoint in TYPED_INTO:
            return
        if root.exists():
            raise
        raise NotebookError(f"{root}: the folder is gone; put the notebook back, then repeat this") from error


def lasting_key(state_dir: Path) -> str:
    """Return the key that signs form tokens; kept beside the index, so that open forms survive a restart."""
    path, key = state_dir / "forms.key", secrets.token_hex(32)
    with contextlib.suppress(OSError):  # it exists already, or cannot be kept
        write_private(path, key)
    kept = read_private(path)
    return kept if len(kept) >= 32 else key
