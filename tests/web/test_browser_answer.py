"""The answer page at the bench: its first screen, its keys, its paper, and what a screen reader meets."""

from __future__ import annotations

import base64
import importlib.resources
import json
import re
from collections.abc import Iterator
from urllib.parse import urlencode, urlsplit

import pytest
from selenium.webdriver import Chrome, Keys
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By

from kb.notebook import open_demo
from search.bench import Bench
from web.app import create_app

from .browser import MAY_SKIP, WHY, served
from .test_browser_writing import wait

pytestmark = [pytest.mark.browser, pytest.mark.skipif(MAY_SKIP, reason=WHY)]

COMPLAINTS = (
    "dead since the storm, three flashes",
    "goes off with a pop, light flashes three times, maybe four",
    "hums but no picture",
    "trips the fuse board when it heats",
    "comes on for a second then dies",
    "sound but no picture, Halvern 49",
    "microwave runs but stays cold",
    "washing machine does not drain and smells of burning",
    "ticking noise and no light at all, was on the ferry",
    "one speaker crackles after it has been on for an hour",
)
# The lowest edge of each thing that the first screen promises, in CSS pixels.
EDGES = """
const lowest = (name) => Math.max(
  ...[...document.querySelectorAll(name)].map((each) => each.getBoundingClientRect().bottom));
return Object.fromEntries([".hazard-names summary", ".heard", ".places .jump a", ".next .check-what",
  ".next [data-not]", ".first-causes .why"].map((name) => [name, lowest(name)]));
"""
STATES = (
    "/",
    "/?q=",
    "/?q=dead+three+flashes,+never+smelled+burnt",
    "/?q=dead+three+flashes&mode=phone",
    "/?q=dead+three+flashes&rule_out=PFC+MOSFET+shorted",
    "/?q=dead+three+flashes&found=PFC+MOSFET+shorted",
    "/?q=dead&blinks=lots",
    "/cases/new",
    "/families/",
    "/families/HV-L2",
    "/attention",
    "/about",
)
AXE = """
const done = arguments[0];
axe.run(document).then((found) => done(found.violations.map((each) => `${each.id}: ${each.nodes[0].html}`)));
"""


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Return the address of a running server over the demo notebook."""
    with served(create_app(Bench(open_demo(tmp_path_factory.mktemp("demo"))), testing=True)) as where:
        yield where


def sized(page: Chrome, width: int, height: int = 800) -> None:
    size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600}
    page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)


@pytest.fixture
def screen(chromium: Chrome) -> Iterator[Chrome]:
    yield chromium
    chromium.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})
    chromium.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})


@pytest.mark.parametrize("width", [1280, 390])
def test_first_screen_holds_what_is_needed_first(screen: Chrome, demo: str, width: int) -> None:
    sized(screen, width)
    asked = [{"q": complaint} for complaint in COMPLAINTS]
    for address in [*asked, {"q": COMPLAINTS[0] + ", no burnt smell", "family": "HV-L2"}]:
        complaint = address["q"]
        screen.get(f"{demo}/?{urlencode(address)}")
        edges = screen.execute_script(EDGES)
        assert max(edges.values()) <= 800, (complaint, edges)
        assert len(screen.find_elements(By.CSS_SELECTOR, ".first-causes > li")) == 3, complaint


@pytest.mark.parametrize("path", STATES)
def test_page_fits_a_narrow_telephone(screen: Chrome, demo: str, path: str) -> None:
    """WCAG 2.2, success criterion 1.4.10: no sideways scrolling at 320 CSS pixels."""
    sized(screen, 320)
    screen.get(demo + path)
    assert screen.execute_script("return document.documentElement.scrollWidth") <= 320
    assert screen.execute_script("return document.querySelector('header').offsetHeight") <= 64


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", STATES)
def test_axe_finds_nothing(screen: Chrome, demo: str, path: str, scheme: str) -> None:
    """axe-core 4.4, which tests against WCAG 2.1 A and AA and its own best practices."""
    features = [{"name": "prefers-color-scheme", "value": scheme}]
    screen.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})
    screen.get(demo + path)
    for folded in screen.find_elements(By.CSS_SELECTOR, "main details"):
        screen.execute_script("arguments[0].open = true", folded)
    screen.execute_script((importlib.resources.files("axe_core_python") / "axe.min.js").read_text("utf-8"))
    screen.set_script_timeout(60)
    assert screen.execute_async_script(AXE) == []


@pytest.mark.parametrize("complaint", COMPLAINTS)
def test_answer_prints_on_one_a4_page(chromium: Chrome, demo: str, complaint: str) -> None:
    chromium.get(f"{demo}/?{urlencode({'q': complaint})}")
    pdf = base64.b64decode(chromium.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})["data"])
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1


def keys(page: Chrome, *pressed: str) -> None:
    ActionChains(page).send_keys(*pressed).perform()


def at(page: Chrome) -> str:
    return page.switch_to.active_element.get_attribute("data-key") or ""


def test_repair_by_keyboard_alone_from_complaint_to_write_up(page: Chrome) -> None:
    """Typed, ruled out, undone, measured and found; nothing is loaded anew before the write-up."""
    assert page.switch_to.active_element.get_attribute("id") == "q"
    keys(page, "dead, three flashes", Keys.ENTER)
    wait(page, lambda page: "q=dead" in page.current_url and at(page) == "top")
    keys(page, "j")
    assert at(page) == "check PFC MOSFET shorted"
    keys(page, "n")
    wait(page, lambda page: "rule_out=PFC+MOSFET+shorted" in page.current_url)
    assert at(page).startswith("check ")
    keys(page, "u")
    wait(page, lambda page: "rule_out" not in page.current_url)
    keys(page, Keys.ENTER, "0.4 ohm", Keys.ESCAPE)
    wait(page, lambda page: "noted=0.4+ohm" in page.current_url)
    keys(page, "f")
    wait(page, lambda page: "found=" in page.current_url and at(page) == "write")
    keys(page, Keys.ENTER)
    wait(page, lambda page: urlsplit(page.current_url).path == "/cases/new")
    assert page.find_element(By.NAME, "root_cause").get_attribute("value") == "PFC MOSFET shorted"
    assert "0.4 ohm" in (page.find_element(By.NAME, "body").get_attribute("value") or "")


def test_answer_comes_while_typing_and_back_leads_to_where_one_was(page: Chrome, address: str) -> None:
    keys(page, "dead")
    wait(page, lambda page: page.find_elements(By.CSS_SELECTOR, ".cause-name"))
    assert page.switch_to.active_element.get_attribute("id") == "q"
    keys(page, " three flashes")
    wait(page, lambda page: page.current_url.endswith("three+flashes"))
    page.back()
    wait(page, lambda page: page.find_elements(By.CSS_SELECTOR, ".lately"))
    assert page.find_element(By.ID, "q").get_attribute("value") == ""


def test_single_keys_can_be_turned_off(page: Chrome, address: str) -> None:
    """WCAG 2.2, success criterion 2.1.4."""
    page.get(address + "/?q=dead")
    keys(page, "?")
    page.find_element(By.CSS_SELECTOR, "[data-keys-on]").click()
    keys(page, Keys.ESCAPE, "n", "/")
    assert "rule_out" not in page.current_url
    assert page.switch_to.active_element.get_attribute("id") != "q"
    page.refresh()
    keys(page, "n")
    assert "rule_out" not in page.current_url


def test_no_request_leaves_the_machine(page: Chrome, address: str) -> None:
    for path in STATES:
        page.get(address + path)
        loaded = json.loads(
            page.execute_script("return JSON.stringify(performance.getEntries().map((each) => each.name))")
        )
        hosts = {urlsplit(name).netloc for name in loaded if "://" in name}
        assert hosts == {urlsplit(address).netloc}, path


def test_first_page_is_light(page: Chrome, address: str) -> None:
    page.execute_cdp_cmd("Network.clearBrowserCache", {})
    page.refresh()
    sizes = page.execute_script(
        "return performance.getEntriesByType('resource').concat(performance.getEntriesByType('navigation'))"
        ".map((each) => each.decodedBodySize)"
    )
    assert 10_000 < sum(sizes) < 60_000
