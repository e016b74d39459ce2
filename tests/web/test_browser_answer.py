"""The answer page at the bench: its first screen, its paper, and what comes while it is typed."""

from urllib.parse import urlencode

import pytest
from selenium.webdriver import Chrome, Keys
from selenium.webdriver.common.by import By

from .browser import MAY_SKIP, WHY, count_pages, keys, press, printed, sized, wait

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
# What the first screen promises: how many of each, the highest and the lowest edge in CSS pixels.
EDGES = """
const names = [".hazard-names summary", ".heard", ".places .jump a", ".next .check-what", ".next [data-not]",
  ".first-causes .share", ".first-causes .why"];
return names.map((name) => {
  const boxes = [...document.querySelectorAll(name)].map((each) => each.getBoundingClientRect());
  const edges = (side) => boxes.map((box) => box[side]);
  return [name, boxes.length, Math.min(...edges("top")), Math.max(...edges("bottom"))];
});
"""


@pytest.mark.parametrize("family", ["", "HV-L2"])
@pytest.mark.parametrize("complaint", COMPLAINTS)
def test_first_screen_holds_what_is_needed_first(
    screen: Chrome, demo: str, complaint: str, family: str
) -> None:
    """The answer also prints on one A4 page."""
    screen.get(f"{demo}/?{urlencode({'q': complaint, 'family': family})}")
    for width in (1280, 390):
        sized(screen, width)
        edges = {name: (count, top, bottom) for name, count, top, bottom in screen.execute_script(EDGES)}
        if "likely enough to check" in screen.find_element(By.CSS_SELECTOR, ".next").text:
            assert edges.pop(".next .check-what")[0] == edges.pop(".next [data-not]")[0] == 0
        assert max(bottom for _, _, bottom in edges.values()) <= 800, edges
        assert edges[".first-causes .share"][0] == edges[".first-causes .why"][0] == 3
        assert edges[".places .jump a"][0] == 4
        assert edges[".hazard-names summary"][1] == min(top for _, top, _ in edges.values()), edges
    assert count_pages(printed(screen)) == 1


@pytest.mark.parametrize("width", [1280, 390])
@pytest.mark.parametrize("by", ["press", "address"])
def test_next_check_comes_with_the_cautions_above_it(screen: Chrome, demo: str, by: str, width: int) -> None:
    sized(screen, width)
    said = {"q": "washer won't drain and smells of burning"}
    if by == "press":
        screen.get(f"{demo}/?{urlencode(said)}")
        press(screen, ".next [data-not]")
    else:  # as without scripts
        screen.get(f"{demo}/?{urlencode({**said, 'rule_out': 'drain pump blocked'})}#next")
    wait(screen, lambda page: page.find_elements(By.CSS_SELECTOR, ".did"))
    assert screen.execute_script("return document.querySelector('#mind').getBoundingClientRect().top") >= 0
    bottoms = {name: bottom for name, _, _, bottom in screen.execute_script(EDGES)}
    assert bottoms[".next .check-what"] <= 800


def test_answer_comes_while_typing_and_back_leads_to_where_one_was(page: Chrome) -> None:
    keys(page, "dead")
    wait(page, lambda page: page.find_elements(By.CSS_SELECTOR, ".cause-name"))
    assert page.switch_to.active_element.get_attribute("id") == "q"
    keys(page, " three flashes")
    wait(page, lambda page: page.current_url.endswith("three+flashes"))
    page.back()
    wait(page, lambda page: page.find_elements(By.CSS_SELECTOR, ".lately"))
    assert page.find_element(By.ID, "q").get_attribute("value") == ""


def test_answer_that_came_while_typing_prints_by_a_press(page: Chrome) -> None:
    keys(page, "dead three flashes")
    wait(page, lambda page: page.find_elements(By.CSS_SELECTOR, ".change summary"))
    page.execute_script("window.print = () => { window.wasPrinted = true; }")
    press(page, ".change summary")
    press(page, "[data-print]")
    assert page.execute_script("return window.wasPrinted")
    page.execute_script("document.documentElement.className = ''")  # as where no script runs
    for name in ("count", "keys", "print", "timer"):
        assert not page.find_element(By.CSS_SELECTOR, f"[data-{name}]").is_displayed()


def test_suggestions_are_walked_and_taken_by_keyboard(page: Chrome) -> None:
    keys(page, "hv-l")
    wait(page, lambda page: page.find_elements(By.CSS_SELECTOR, ".ask .suggested button"))
    keys(page, Keys.ARROW_DOWN)
    assert page.switch_to.active_element.text == "HV-L2"
    keys(page, Keys.ARROW_UP)
    assert page.switch_to.active_element.get_attribute("id") == "q"
    keys(page, Keys.ARROW_DOWN, Keys.ENTER)
    wait(page, lambda page: page.current_url.endswith("q=HV-L2"))
    assert page.switch_to.active_element.get_attribute("id") == "q"
    assert not page.find_element(By.CSS_SELECTOR, ".ask .suggested").is_displayed()


def test_slash_goes_to_the_search_from_any_page(page: Chrome, address: str) -> None:
    for path in ("/", "/about"):
        page.get(address + path)
        press(page, "body")
        keys(page, "/")
        assert page.switch_to.active_element.get_attribute("name") == "q"
        assert page.switch_to.active_element.get_attribute("value") == ""


def test_single_keys_can_be_turned_off(page: Chrome, address: str) -> None:
    """WCAG 2.2, success criterion 2.1.4."""
    page.get(address + "/?q=dead")
    keys(page, "?")
    press(page, "[data-keys-on]")
    keys(page, Keys.ESCAPE, "n", "/")
    assert "rule_out" not in page.current_url
    assert page.switch_to.active_element.get_attribute("id") != "q"
    page.refresh()
    keys(page, "n")
    assert "rule_out" not in page.current_url
