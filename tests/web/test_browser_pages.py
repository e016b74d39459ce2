"""Every page in every state, in a real browser: nothing to complain of on any screen."""

import importlib.resources

import pytest
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By

from .browser import MAY_SKIP, WHY, complaints, count_pages, emulate, printed, sized
from .every_page import STATES

pytestmark = [pytest.mark.browser, pytest.mark.skipif(MAY_SKIP, reason=WHY)]

UNFOLD = "for (const each of document.querySelectorAll('main details')) each.open = true"
WIDTH = "return document.documentElement.scrollWidth"
SMALL = """
const pressed = 'button, .press, nav a, summary, input:not([type=hidden]), select, textarea, main li > a';
return [...document.querySelectorAll(pressed)]
  .filter((each) => each.checkVisibility() && !each.closest('.choice, .as-link') && !each.matches('.as-link'))
  .map((each) => [each.outerHTML.slice(0, 90), each.getBoundingClientRect()])
  .filter(([, box]) => box.height && (box.height < 43.5 || box.width < 43.5))
  .map(([text, box]) => `${text} ${box.width} x ${box.height}`);
"""
MOVING = """
return [...document.querySelectorAll('*')].filter((each) => {
  const { transitionDuration, animationName } = getComputedStyle(each);
  return transitionDuration !== '0s' || animationName !== 'none';
}).map((each) => each.outerHTML.slice(0, 90)).concat(document.getAnimations().map(String));
"""
AXE = """
const [options, done] = arguments;
const said = ({ id, nodes }) => `${id}: ${nodes[0].html}`;
axe.run(document, options).then(({ violations }) => done(violations.map(said)));
"""


@pytest.mark.parametrize("path", STATES)
def test_page_holds_what_is_promised(screen: Chrome, demo: str, path: str) -> None:
    """WCAG 2.2: 1.4.10, no sideways scrolling at 320 CSS pixels; 2.5.5, targets of 44 by 44; axe-core 4.4."""
    sized(screen, 320)
    screen.get(demo + path)
    assert screen.execute_script("return document.querySelector('header').offsetHeight") <= 64
    for width in (320, 390, 1280):
        sized(screen, width)
        assert screen.execute_script(WIDTH) <= width
        if width == 320:
            assert screen.execute_script(SMALL) == []
            screen.execute_script(UNFOLD)
            assert screen.execute_script(WIDTH) <= width
    screen.execute_script((importlib.resources.files("axe_core_python") / "axe.min.js").read_text("utf-8"))
    screen.set_script_timeout(60)
    assert screen.execute_async_script(AXE, {}) == []
    emulate(screen, prefers_color_scheme="dark", prefers_reduced_motion="reduce")
    assert screen.execute_async_script(AXE, {"runOnly": ["color-contrast"]}) == []
    assert screen.execute_script(MOVING) == []
    assert complaints(screen) == []


def test_request_that_would_leave_the_machine_is_noticed(screen: Chrome, demo: str) -> None:
    """Chromium looks up no name and no other address (see FLAGS), so every attempt is complained of."""
    screen.get(demo)
    screen.execute_async_script("const done = arguments[0]; fetch('http://192.0.2.1/').catch(() => done())")
    assert complaints(screen)


def test_first_page_is_light(screen: Chrome, demo: str) -> None:
    screen.execute_cdp_cmd("Network.clearBrowserCache", {})
    screen.get(demo)
    sizes = screen.execute_script(
        "return performance.getEntriesByType('resource').concat(performance.getEntriesByType('navigation'))"
        ".map((each) => each.decodedBodySize)"
    )
    assert 10_000 < sum(sizes) < 60_000


@pytest.mark.parametrize("case_id", ["20240229-24s1", "20240430-pmdg", "20220405-ba2q"])
def test_comeback_prints_on_one_page_with_all_that_its_note_says(
    screen: Chrome, demo: str, case_id: str
) -> None:
    """The longest of the demo."""
    screen.get(f"{demo}/cases/{case_id}")
    said = [each.text for each in screen.find_elements(By.CSS_SELECTOR, ".fields dd")]
    assert len(said) > 12
    assert count_pages(printed(screen)) == 1
    emulate(screen, media="print")
    paper = screen.find_element(By.TAG_NAME, "main").text.lower()
    assert [each for each in said if each.lower() not in paper] == []
