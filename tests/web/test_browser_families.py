"""The family pages in a real browser: found as typed, replayed in light, and on one sheet of paper."""

from __future__ import annotations

import base64
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import WebDriverWait

import kb
from kb.notebook import Notebook, open_demo
from search.bench import Bench
from web.app import create_app

from .browser import MAY_SKIP, WAIT_S, WHY, served

pytestmark = [pytest.mark.browser, pytest.mark.skipif(MAY_SKIP, reason=WHY)]

FAMILIES = sorted(path.stem.upper() for path in (Path(kb.__file__).parent / "demo/families").glob("*.md"))
PAGES = ("/families/", "/families/HV-L2", "/families/HV-L2?outcome=fixed", "/weak-points", "/families/nope")

TARGETS = "main button, main .press, main summary, main input, main li > a"

# Presses the button, and answers when its lamp has been lit and gone dark so often.
WATCH = """
const [button, count, answer] = arguments;
const lamp = button.closest("[data-replays]").querySelector("[data-lamp]");
let flashes = 0;
let lit = false;
new MutationObserver((_, observer) => {
  const now = lamp.classList.contains("lit");
  if (lit && !now) flashes += 1;
  lit = now;
  if (flashes === count) { observer.disconnect(); answer(flashes); }
}).observe(lamp, { attributes: true, attributeFilter: ["class"] });
button.click();
"""


@pytest.fixture(scope="module")
def demo_address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Return the address of a running server over the demo notebook."""
    notebook = open_demo(tmp_path_factory.mktemp("demo"))
    (notebook.root / "shop.toml").write_text('labour_rate = 40\ncurrency = "crowns"\n', encoding="utf-8")
    with served(create_app(Bench(notebook), testing=True)) as where:
        yield where


@pytest.fixture
def still(chromium: Chrome) -> Iterator[None]:
    """Ask for no motion, as a person can in the settings of the system."""
    wish = {"features": [{"name": "prefers-reduced-motion", "value": "reduce"}]}
    chromium.execute_cdp_cmd("Emulation.setEmulatedMedia", wish)
    yield
    chromium.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})


def view(chromium: Chrome, width: int, height: int = 844) -> None:
    """Make the view as wide as a telephone; a window cannot be made as narrow."""
    size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500}
    chromium.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)


def page_height(chromium: Chrome) -> int:
    return int(chromium.execute_script("return document.documentElement.scrollHeight"))


@pytest.fixture
def telephone(chromium: Chrome) -> Iterator[None]:
    """Make the view 390 px wide, and the window's own again afterwards."""
    view(chromium, 390)
    yield
    chromium.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


@pytest.mark.parametrize("path", PAGES)
def test_browser_has_nothing_to_complain_of(chromium: Chrome, demo_address: str, path: str) -> None:
    chromium.get_log("browser")
    chromium.get(demo_address + path)
    said = [entry["message"] for entry in chromium.get_log("browser") if " 404 " not in entry["message"]]
    assert said == []


@pytest.mark.usefixtures("telephone")
@pytest.mark.parametrize("path", PAGES)
def test_page_fits_a_telephone(chromium: Chrome, demo_address: str, path: str) -> None:
    for width in (390, 320):
        view(chromium, width)
        chromium.get(demo_address + path)
        for fold in chromium.find_elements(By.CSS_SELECTOR, "main details"):
            chromium.execute_script("arguments[0].open = true", fold)
        assert chromium.execute_script("return document.documentElement.scrollWidth") <= width
        assert chromium.find_element(By.CSS_SELECTOR, "header.top").size["height"] <= 64


@pytest.mark.usefixtures("telephone")
@pytest.mark.parametrize("family", FAMILIES)
def test_family_is_short(chromium: Chrome, demo_address: str, family: str) -> None:
    # A screen and a half on the bench; three on a telephone, where it was 17.
    for width, height, screens in ((1280, 800, 1.5), (390, 844, 3)):
        view(chromium, width, height)
        chromium.get(f"{demo_address}/families/{family}")
        assert page_height(chromium) <= screens * height
    assert chromium.find_element(By.ID, "known-h").location["y"] <= 844


def test_hazards_are_named_and_spelt_out_on_a_press(chromium: Chrome, demo_address: str) -> None:
    chromium.get(demo_address + "/families/HV-L2")
    names = chromium.find_element(By.CSS_SELECTOR, ".caution summary")
    sentences = chromium.find_element(By.CSS_SELECTOR, ".caution ul")
    assert "stored charge" in names.text
    assert not sentences.is_displayed()
    names.click()
    assert sentences.is_displayed()


@pytest.mark.usefixtures("telephone")
@pytest.mark.parametrize("path", PAGES)
def test_what_is_pressed_is_large_enough_for_a_thumb(chromium: Chrome, demo_address: str, path: str) -> None:
    # WCAG 2.2, success criterion 2.5.5 asks for 44 by 44 px; links within sentences are exempt.
    chromium.get(demo_address + path)
    pressed = chromium.find_elements(
        By.CSS_SELECTOR, "main button, main .press, main summary, main input, main li > a"
    )
    sizes = [each.size for each in pressed if each.is_displayed()]
    assert sizes
    assert all(size["height"] >= 44 and size["width"] >= 44 for size in sizes)


LONG_NOTE = """\
---
case: {case}
date: 2026-05-01
device: {word}
make: {word}
model: {word}
chassis_family: {word}
complaint: nothing
symptom: [no sound]
root_cause: {word}
board: {word}
blinks: 1+2+3+4+5+6
check: {word}
parts: [{word}]
fix_time: 60 min
outcome: fixed
---
"""


@pytest.mark.usefixtures("telephone")
def test_words_without_a_space_do_not_widen_a_page(chromium: Chrome, tmp_path: Path) -> None:
    word = "salt" * 20
    (tmp_path / "cases").mkdir()
    for number in range(6):
        case = f"20260501-a00{number}"
        (tmp_path / "cases" / f"{case}.md").write_text(LONG_NOTE.format(case=case, word=word), "utf-8")
    with served(create_app(Bench(Notebook(tmp_path)), testing=True)) as where:
        for path in (f"/families/{word}", "/families/", "/weak-points", f"/families/{word}x"):
            view(chromium, 320)
            chromium.get(where + path)
            chromium.execute_script("document.querySelectorAll('main details').forEach(e => e.open = true)")
            assert chromium.execute_script("return document.documentElement.scrollWidth") <= 320


def shown_families(page: Chrome) -> list[str]:
    return [each.text for each in page.find_elements(By.CSS_SELECTOR, "#family-list a.big")]


def test_families_are_found_as_typed(chromium: Chrome, demo_address: str) -> None:
    chromium.get(demo_address + "/families/")
    assert len(shown_families(chromium)) == len(FAMILIES)
    box = chromium.find_element(By.ID, "find")
    box.send_keys("tarnbrok")
    WebDriverWait(chromium, WAIT_S).until(lambda page: shown_families(page) == ["TN-S3", "TN-D4", "TN-W2"])
    assert chromium.current_url.endswith("/families/?find=tarnbrok")
    assert chromium.switch_to.active_element == box


def test_lamp_replays_the_pattern(chromium: Chrome, demo_address: str) -> None:
    chromium.get(demo_address + "/families/HV-L2")
    chromium.find_element(By.CSS_SELECTOR, ".blink-row summary").click()
    button = chromium.find_element(By.CSS_SELECTOR, "[data-steps]")
    chromium.set_script_timeout(30)
    assert chromium.execute_async_script(WATCH, button, 2) == 2
    assert button.get_attribute("aria-pressed") == "true"
    chromium.execute_script("arguments[0].click()", button)
    assert button.get_attribute("aria-pressed") == "false"
    assert not chromium.find_elements(By.CSS_SELECTOR, ".lamp.lit")


@pytest.mark.usefixtures("still")
def test_lamp_stays_still_when_no_motion_is_wanted(chromium: Chrome, demo_address: str) -> None:
    chromium.get(demo_address + "/families/HV-L2")
    buttons = chromium.find_elements(By.CSS_SELECTOR, "[data-steps]")
    assert buttons
    assert not any(button.is_displayed() for button in buttons)
    # Even a press that gets through, as from a script, lights nothing.
    chromium.execute_script("arguments[0].click()", buttons[0])
    assert not chromium.find_elements(By.CSS_SELECTOR, ".lamp.lit")
    # The still row of lamps says the same.
    assert chromium.find_element(By.CSS_SELECTOR, ".blink-row .lamps").is_displayed()


@pytest.mark.parametrize("family", FAMILIES)
def test_family_prints_on_one_a4_page(chromium: Chrome, demo_address: str, family: str) -> None:
    chromium.get(f"{demo_address}/families/{family}")
    printed = chromium.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True})
    pdf = base64.b64decode(printed["data"])
    assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1
    width, height = map(float, re.findall(rb"/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]", pdf)[0])
    # ISO 216: A4 is 210 by 297 mm; a point is 25.4 / 72 mm.
    assert (width * 25.4 / 72, height * 25.4 / 72) == pytest.approx((210, 297), abs=1)


def test_printed_sheet_keeps_the_main_facts(chromium: Chrome, demo_address: str) -> None:
    chromium.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    try:
        chromium.get(f"{demo_address}/families/HV-L2")
        main = chromium.execute_script("return document.querySelector('main').innerText")
        for fact in ("Mains", "Before power", "Tell the owner", "LED strip open circuit", "10 of 33",
                     "backlight protection", "1000uF 16V", "Such a repair usually costs"):  # fmt: skip
            assert fact.lower() in main.lower()
        assert "prove it dead with a meter" in main
        for unprinted in ("Only some cases", "How sure is this?"):
            assert unprinted not in main
    finally:
        chromium.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
