"""A small notebook and fresh apps over it."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from selenium.webdriver import Chrome

from kb.notebook import Notebook
from search.bench import Bench
from web.app import create_app

from .browser import complaints, emulate, served, start_chromium
from .every_page import app_of_every_page
from .repositories import git

CASES = {
    "20260318-k7f2": """\
case: 20260318-k7f2
date: 2026-03-18
device: LED TV
make: Halvern
model: HV-43L2
chassis_family: HV-L2
complaint: Went off with a pop at teatime. Owner counts three flashes, maybe four.
symptom: [dead, blinking standby light]
blinks: 3 or 4
root_cause: PFC MOSFET shorted
board: power supply
check: Q801 drain to source 0.4 ohm with the set unplugged
check_time: 6 min
fix: Q801, gate resistor R812 and the mains fuse replaced
parts: [Q801 20N60C3, R812 10R]
fix_time: 55 min
proof: two hours on a test picture
outcome: fixed
caution: [mains, stored charge]
tech: RK
shelf: 4b
---
Found **R812** open. Watch the *clip* on the heatsink.
""",
    "20260402-m3xa": """\
case: 20260402-m3xa
date: 2026-04-02
device: LED TV
make: Halvern
model: HV-43L2
chassis_family: HV-L2
complaint: Dead again after the last repair, three flashes
symptom: [dead]
blinks: 3
root_cause: PFC MOSFET shorted
board: power supply
fix_time: 1 h 20 min
outcome: fixed
comeback_of: 20260318-k7f2
tech: AM
---
""",
    "20260511-q9tt": """\
case: 20260511-q9tt
date: 2026-05-11
device: LED TV
make: Halvern
model: HV-49L2
chassis_family: HV-L2
complaint: picture goes dark after ten minutes, sound stays, six blinks
symptom: [no backlight]
blinks: 6
root_cause: backlight string open
board: backlight
check: strip voltage climbs, then collapses
check_time: 10 min
fix: two strips replaced
fix_time: 95 min
outcome: fixed
tech: JS
---
""",
    "20260620-c5pp": """\
case: 20260620-c5pp
date: 2026-06-20
device: washing machine
make: Tarnbrook
model: TW-7W2
chassis_family: TN-W2
complaint: does not drain and smells of burning
symptom: [does not drain]
root_cause: drain pump jammed
board: pump
fix: pump cleaned, hairpin out
fix_time: 25 min
outcome: fixed
tech: JS
---
""",
}
FAMILY = """\
---
chassis_family: HV-L2
device: LED TV
make: Halvern
models: [HV-43L2, HV-49L2, HV-55L2*]
opening_time: 12 min
before_power: [measure Q801 drain to source cold]
tell_owner: [leave it unplugged until it is here]
while_open: [tighten the earth bond screw]
caution: [mains, stored charge]
blink_meaning:
  3: PFC voltage missing
  6: backlight open
boards: [power supply, backlight]
---
Back held by 14 screws.
"""


def write_notebook(root: Path) -> Path:
    """Write the small notebook into `root`."""
    for case_id, text in CASES.items():
        path = root / "cases" / case_id[:4] / f"{case_id}.md"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(f"---\n{text}", encoding="utf-8")
    (root / "families").mkdir(parents=True)
    (root / "families" / "hv-l2.md").write_text(FAMILY, encoding="utf-8")
    return root


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """Return the folder of a fresh small notebook."""
    return write_notebook(tmp_path / "notebook")


@pytest.fixture
def make_app(root: Path) -> Callable[..., Flask]:
    """Return a maker of apps over the small notebook."""

    def make(**config: object) -> Flask:
        return create_app(Bench(Notebook(root), look_again_s=0), testing=True, **config)  # type: ignore[arg-type]

    return make


@pytest.fixture
def app(make_app: Callable[..., Flask]) -> Flask:
    """Return an app with the forms' tokens switched off, so that a test can post."""
    app = make_app()
    app.config["WTF_CSRF_ENABLED"] = False
    return app


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    """Return a test client of the app."""
    return app.test_client()


@pytest.fixture(scope="session")
def demo_app(tmp_path_factory: pytest.TempPathFactory) -> Flask:
    """Return the one app over the demo notebook that every test may read and none may write to."""
    return app_of_every_page(tmp_path_factory.mktemp("demo"))


@pytest.fixture(scope="session")
def demo(demo_app: Flask) -> Iterator[str]:
    """Return the address of a running server over the demo notebook."""
    with served(demo_app) as where:
        yield where


@pytest.fixture(scope="session")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chrome]:
    """Return one headless Chromium for all browser tests."""
    driver = start_chromium(tmp_path_factory.mktemp("chromium"))
    driver.implicitly_wait(0)
    yield driver
    driver.quit()


@pytest.fixture
def address(make_app: Callable[..., Flask]) -> Iterator[str]:
    """Return the address of a running server over the small notebook, forms' tokens switched on."""
    with served(make_app()) as where:
        yield where


@pytest.fixture
def screen(chromium: Chrome) -> Iterator[Chrome]:
    """Return the browser for a test that changes its size or wishes, which are its own again afterwards."""
    chromium.get_log("browser")
    yield chromium
    chromium.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    emulate(chromium)


@pytest.fixture
def page(chromium: Chrome, address: str) -> Iterator[Chrome]:
    """Return the browser on the start page of a fresh server, with nothing kept from an earlier test.

    Afterwards nothing may have left this computer, and nothing may stand in the browser's console.
    """
    chromium.set_window_size(1280, 900)
    chromium.get(address)
    chromium.execute_script("localStorage.clear()")
    chromium.delete_all_cookies()
    chromium.get(address)
    chromium.get_log("browser")
    yield chromium
    assert complaints(chromium) == []


@pytest.fixture
def repository(root: Path) -> Path:
    """Return the small notebook as a git repository with one commit."""
    git(root, "init", "--quiet")
    git(root, "add", "--all")
    git(root, "commit", "--quiet", "--message", "start")
    return root
