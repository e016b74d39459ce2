"""The Flask application: pages for the bench and JSON for programs, over one notebook."""

from collections.abc import Collection

from flask import Flask, request
from flask_wtf.csrf import CSRFProtect

from kb.errors import NotebookError
from kb.notebook import Notebook
from search.bench import Bench
from web.api import families as api_families
from web.api import search_and_cases as api
from web.pages import (
    about,
    attention,
    case_pages,
    edit_page,
    family_edit,
    family_pages,
    import_page,
    job_sheet,
    new_page,
    phone,
    pictures_page,
    search_page,
    sign_in,
)
from web.server.access import Access, guard
from web.server.current import Desk, desk
from web.server.errors import register_errors
from web.server.measuring import Measuring
from web.server.secret import lasting_key
from web.server.security import protect
from web.server.static_files import keep_static_files
from web.server.uploads import take_large_uploads
from web.views.marking import register_wording
from web.views.state import SearchState

PAGES = (
    search_page,
    case_pages,
    new_page,
    edit_page,
    family_pages,
    family_edit,
    attention,
    pictures_page,
    job_sheet,
    import_page,
    phone,
    sign_in,
    about,
    api,
    api_families,
)
# These say themselves, around what was typed, that the notebook is gone; an error page would not hold it.
TYPED_INTO = frozenset(
    ("new_page.create", "edit_page.revise", "family_edit.create", "family_edit.revise", "attention.save_note")
)
LARGEST_REQUEST = 1024 * 1024  # bytes; chosen by us: a hundred times a long note


def create_app(
    notebook: Notebook | Bench,
    *,
    secret_key: str | None = None,
    host_names: Collection[str] = (),
    git: bool = False,
    access: Access | None = None,
    shop_address: str = "",
    testing: bool = False,
) -> Flask:
    """Build the application for one notebook; it reads no other configuration.

    secret_key: signs the forms' tokens; the notebook's own, made once, when none is given.
    host_names: the Host headers to answer, see web.server.security.
    git: record each save as a commit of the notebook's repository.
    access: who may write; by default this computer alone.
    shop_address: where other computers find these pages, "" when they do not.
    """
    bench = notebook if isinstance(notebook, Bench) else Bench(notebook)
    app = Flask(__name__)
    app.config.update(
        settings(secret_key or lasting_key(bench.notebook.state_dir)),
        TESTING=testing,
        SHOP_ADDRESS=shop_address,
    )
    app.json.sort_keys = False  # type: ignore[attr-defined]
    app.jinja_env.trim_blocks = True
    app.jinja_env.lstrip_blocks = True
    app.extensions["desk"] = Desk(bench=bench, measuring=Measuring(bench), git=git)
    protect(app, host_names=host_names)
    keep_static_files(app)
    guard(app, access or Access())
    app.before_request(take_large_uploads)
    csrf = CSRFProtect(app)
    register_errors(app)
    register_wording(app)
    for module in PAGES:
        app.register_blueprint(module.blueprint)
    csrf.exempt(api.blueprint)  # guarded by content type and Origin instead

    @app.before_request
    def follow_the_notes() -> None:
        if request.endpoint == "static":
            return  # says nothing of the notes, and an error page needs it
        try:
            desk().bench.refresh()
        except NotebookError as error:
            if request.method == "POST" and request.endpoint in TYPED_INTO:
                return
            if bench.notebook.root.exists():
                raise
            gone = f"{bench.notebook.root}: the folder is gone; put the notebook back, then repeat this"
            raise NotebookError(gone) from error

    @app.context_processor
    def for_every_page() -> dict[str, object]:
        return {"notebook_name": bench.notebook.root.name, "state": SearchState()}

    return app


def settings(secret_key: str) -> dict[str, object]:
    """Return Flask's settings: the same for every notebook but for the key."""
    return {
        "SECRET_KEY": secret_key,
        "MAX_CONTENT_LENGTH": LARGEST_REQUEST,
        "MAX_FORM_MEMORY_SIZE": LARGEST_REQUEST,
        "SESSION_COOKIE_NAME": "benchlore",
        "SESSION_COOKIE_HTTPONLY": True,
        "SESSION_COOKIE_SAMESITE": "Lax",
        "WTF_CSRF_TIME_LIMIT": None,  # a write-up may stay open for a working day
    }
