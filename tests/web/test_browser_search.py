"""The search page in a real browser."""

from __future__ import annotations

import pytest
from selenium.webdriver import Chrome, Keys
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import WebDriverWait

from .browser import MAY_SKIP, WAIT_S, WHY
from .test_browser_writing import wait

pytestmark = [pytest.mark.browser, pytest.mark.skipif(MAY_SKIP, reason=WHY)]

PAGES = (
    "/",
    "/?q=dead+three+flashes",
    "/cases/20260318-k7f2",
    "/cases/new",
    "/attention",
    "/about",
    "/nowhere",
)


def complaints(page: Chrome) -> list[str]:
    """Return what the browser itself complains of: blocked scripts and styles, failed requests."""
    return [entry["message"] for entry in page.get_log("browser") if "404" not in entry["message"]]


def cause_names(page: Chrome) -> list[str]:
    return [each.text for each in page.find_elements(By.CSS_SELECTOR, ".cause-name")]


def press(page: Chrome, selector: str) -> None:
    page.find_element(By.CSS_SELECTOR, selector).click()


def test_slash_goes_to_the_search_from_any_page(page: Chrome, address: str) -> None:
    for path in ("/", "/about"):
        page.get(address + path)
        page.find_element(By.TAG_NAME, "body").click()
        ActionChains(page).send_keys("/").perform()
        assert page.switch_to.active_element.get_attribute("name") == "q"
        assert page.switch_to.active_element.get_attribute("value") == ""


def test_enter_asks_and_the_address_holds_the_question(page: Chrome) -> None:
    page.find_element(By.ID, "q").send_keys("dead, three flashes", Keys.ENTER)
    WebDriverWait(page, WAIT_S).until(lambda page: "q=dead" in page.current_url)
    assert page.current_url.endswith("/?q=dead%2C+three+flashes")
    assert page.find_element(By.CSS_SELECTOR, ".cause-name").text == "PFC MOSFET shorted"


def test_one_press_rules_a_cause_out_and_one_puts_it_back(page: Chrome, address: str) -> None:
    page.get(address + "/?q=dead")
    first = cause_names(page)[0]
    page.execute_script("window.sameLoad = true")
    press(page, "[data-not]")
    wait(page, lambda page: "rule_out=" in page.current_url)
    assert first not in cause_names(page)
    said = page.find_element(By.CSS_SELECTOR, "[data-live]").get_attribute("textContent") or ""
    assert said.startswith("PFC MOSFET shorted ruled out; next: ")
    assert page.switch_to.active_element.get_attribute("data-key").startswith("not ")
    press(page, "[data-undo]")
    wait(page, lambda page: "rule_out=" not in page.current_url)
    assert cause_names(page)[0] == first
    assert page.execute_script("return window.sameLoad"), "the page was loaded anew"


def test_cautions_stand_above_the_fold(page: Chrome, address: str) -> None:
    page.get(address + "/?q=dead&family=HV-L2")
    box = page.find_element(By.CSS_SELECTOR, ".caution")
    assert box.rect["y"] + 60 < page.execute_script("return innerHeight")
    above = page.execute_script(
        "return [...document.querySelectorAll('main section, main form')]"
        ".filter(each => each.checkVisibility())"
        ".every(each => each.getBoundingClientRect().top >= arguments[0].getBoundingClientRect().top)",
        box,
    )
    assert above


@pytest.mark.parametrize("width", [1280, 390])
def test_no_page_scrolls_sideways_or_is_complained_of(page: Chrome, address: str, width: int) -> None:
    device = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": width < 600}
    page.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", device)
    try:
        for path in PAGES:
            page.get(address + path)
            assert page.execute_script("return document.documentElement.scrollWidth") <= width, path
            assert complaints(page) == [], path
    finally:
        page.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def test_everything_to_press_is_large_enough(page: Chrome, address: str) -> None:
    page.get(address + "/?q=dead+three+flashes")
    small = page.execute_script(
        "return [...document.querySelectorAll('button, .press, .drop, nav a, summary, input, textarea')]"
        ".filter(each => each.offsetParent).map(each => [each.textContent, each.getBoundingClientRect()])"
        ".filter(([, box]) => box.height < 43.5).map(([text, box]) => `${text} ${box.height}`)"
    )
    assert small == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", ["/?q=dead+three+flashes", "/cases/20260318-k7f2", "/cases/new"])
def test_text_stands_out_from_its_ground(page: Chrome, address: str, path: str, scheme: str) -> None:
    """WCAG 2.2, success criterion 1.4.3: contrast of at least 4.5 to 1 (no text here counts as large)."""
    features = [{"name": "prefers-color-scheme", "value": scheme}]
    page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})
    try:
        page.get(address + path)
        poor = page.execute_script(CONTRAST)
    finally:
        page.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})
    assert poor == []


# Relative luminance and contrast ratio as WCAG 2.2 defines them.
CONTRAST = """
const channel = (value) => {
  const part = value / 255;
  return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
};
const numbers = (colour) => colour.match(/[\\d.]+/g).map(Number);
const luminance = ([r, g, b]) => 0.2126 * channel(r) + 0.7152 * channel(g) + 0.0722 * channel(b);
const ground = (element) => {
  for (let each = element; each; each = each.parentElement) {
    const colour = numbers(getComputedStyle(each).backgroundColor);
    if (colour.length < 4 || colour[3] > 0) return colour;
  }
  return [255, 255, 255];
};
const poor = [];
const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walker.nextNode()) {
  const element = walker.currentNode.parentElement;
  const said = walker.currentNode.textContent.trim();
  if (!said || !element.checkVisibility() || element.closest('script')) continue;
  const pair = [luminance(numbers(getComputedStyle(element).color)), luminance(ground(element))];
  const ratio = (Math.max(...pair) + 0.05) / (Math.min(...pair) + 0.05);
  if (ratio < 4.5) poor.push(`${said}: ${ratio.toFixed(2)}`);
}
return poor;
"""
