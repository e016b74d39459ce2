"""Every page in every state that an address leads to."""

import io
from pathlib import Path

from flask import Flask

from kb.notebook import open_demo
from search.bench import Bench
from tests.kb.storage.test_pictures import picture
from web.app import create_app

CAME_BACK = "20231124-sa93"  # of the demo
UNREADABLE = "cases/2026/20260701-bad0.md"
ASKED = "/?q=dead+three+flashes"
STATES = (
    "/",
    "/?q=",
    "/?q=dead+three+flashes,+never+smelled+burnt",
    "/?q=dead+three+flashes,+never+smelled+burnt&literal=1",
    f"{ASKED}&family=HV-L2&limit=40",
    f"{ASKED}&mode=phone&yes=dead&no=no+sound",
    f"{ASKED}&rule_out=PFC+MOSFET+shorted&rule_out=no+such+cause&at=LED+strip+open+circuit&noted=40+V",
    f"{ASKED}&found=PFC+MOSFET+shorted",
    "/?q=dead&blinks=lots",
    "/?q=hovercraft+zzyzx&family=none&blinks=none",
    "/?q=electric+toothbrush+dead&mode=phone",
    "/cases/new",
    f"/cases/new{ASKED[1:]}&cause=PFC+MOSFET+shorted",
    f"/cases/{CAME_BACK}",
    f"/cases/{CAME_BACK}/edit",
    f"/cases/{CAME_BACK}/sheet?parts_cost=12",
    "/families/",
    "/families/?find=tarnbrok",
    "/families/?find=nothing+like+it",
    "/families/new",
    "/families/HV-L2",
    "/families/HV-L2?outcome=fixed&since=soon&parts_cost=20&worth=30",
    "/families/HV-L2/edit",
    "/families/nope",
    "/weak-points",
    "/attention",
    f"/attention/note?file={UNREADABLE}",
    "/attention/merge?into=PFC+MOSFET+shorted&from=LED+strip+open+circuit",
    "/import",
    "/about",
    "/phone",
    "/sign-in",
    "/nowhere",
)


def app_of_every_page(folder: Path) -> Flask:
    """Return an app over the demo with what it lacks: a price, a note that cannot be read, a photograph.

    The forms' tokens are switched off, so that a test can post.
    """
    notebook = open_demo(folder)
    (notebook.root / "shop.toml").write_text('labour_rate = 40\ncurrency = "crowns"\n', encoding="utf-8")
    unreadable = notebook.root / UNREADABLE
    unreadable.parent.mkdir(parents=True, exist_ok=True)
    unreadable.write_text("---\ncase: 20260701-bad0\nfix_time: soon\n---\nfuse\n", encoding="utf-8")
    app = create_app(Bench(notebook), testing=True)
    app.config["WTF_CSRF_ENABLED"] = False
    photograph = {"pictures": (io.BytesIO(picture(size=(90, 60))), "inside.jpg"), "caption": "inside"}
    app.test_client().post(f"/cases/{CAME_BACK}/pictures", data=photograph)
    return app
