"""The write-up form fills itself in a real browser, and never types over the technician."""

import datetime
from pathlib import Path
from urllib.parse import urlencode

import pytest
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By
from selenium.webdriver.remote.webelement import WebElement

from tests.kb.storage.test_pictures import picture

from .browser import MAY_SKIP, WHY, box, wait

pytestmark = [pytest.mark.browser, pytest.mark.skipif(MAY_SKIP, reason=WHY)]

MOST_PRESSES = 8  # of a typical write-up from an answer, beside the free text
REQUIRED = 7  # of a note, beside its number: REQUIRED_CASE_FIELDS
OFFER = '//*[@data-offers]//button[starts-with(normalize-space(), "{}")]'


class Presses:
    """Press buttons and count it."""

    def __init__(self, page: Chrome) -> None:
        self.page, self.count = page, 0

    def press(self, element: WebElement) -> None:
        self.page.execute_script("arguments[0].scrollIntoView({block: 'center'})", element)
        element.click()
        self.count += 1


def type_into(page: Chrome, name: str, text: str) -> None:
    page.find_element(By.NAME, name).send_keys(text)


def offer(page: Chrome, text: str) -> WebElement:
    wait(page, lambda page: page.find_elements(By.XPATH, OFFER.format(text)))
    return page.find_element(By.XPATH, OFFER.format(text))


def new_note(root: Path, cause: str) -> str:
    (found,) = (
        text
        for path in (root / "cases").rglob("*.md")
        if f"root_cause: {cause}" in (text := path.read_text()) and path.stem not in text.splitlines()[0]
        and "kettle" in text
    )  # fmt: skip
    return found


def test_guessed_family_is_to_be_checked_until_somebody_types(page: Chrome, address: str) -> None:
    asked = {"q": "dead telly", "cause": "PFC MOSFET shorted", "likely_family": "HV-L2"}
    page.get(f"{address}/cases/new?{urlencode(asked)}")
    wait(page, lambda page: "In the notebook" in page.find_element(By.CLASS_NAME, "box-root_cause").text)
    family = page.find_element(By.CLASS_NAME, "box-chassis_family")
    assert "Check this: guessed from the causes." in family.text
    type_into(page, "complaint", ", six flashes")
    wait(page, lambda page: box(page, "blinks") == "6")
    page.find_element(By.CSS_SELECTOR, ".send .strong").click()
    wait(page, lambda page: page.find_elements(By.ID, "faults"))
    family = page.find_element(By.CLASS_NAME, "box-chassis_family")
    assert "Check this: guessed from the causes." in family.text
    assert "Check this: from what you typed." in page.find_element(By.CLASS_NAME, "box-blinks").text
    type_into(page, "chassis_family", "X")
    assert "Check this" not in family.text


def test_typical_write_up_from_an_answer_takes_few_presses(page: Chrome, address: str, root: Path) -> None:
    page.execute_script(
        "localStorage.setItem('benchlore-timer', JSON.stringify({since: 0, before: 41 * 60000}))"
    )
    asked = {"q": "HV-43L2 kettle noise, dead, three flashes", "rule_out": "backlight string open"}
    page.get(f"{address}/?{urlencode({**asked, 'found': 'PFC MOSFET shorted'})}")
    presses = Presses(page)
    presses.count += 1  # "It was this"
    presses.press(page.find_element(By.CSS_SELECTOR, "a[href*='/cases/new'][href*='cause=PFC']"))
    type_into(page, "fix", "Q801 replaced")
    presses.press(offer(page, "Take its"))
    presses.press(page.find_element(By.CSS_SELECTOR, ".send .strong"))
    wait(page, lambda page: "/cases/20" in page.current_url or page.find_elements(By.ID, "alike"))
    if page.find_elements(By.ID, "alike"):
        presses.press(page.find_element(By.NAME, "all_the_same"))
        wait(page, lambda page: "/cases/20" in page.current_url)
    assert presses.count <= MOST_PRESSES
    text = new_note(root, "PFC MOSFET shorted")
    for line in ("chassis_family: HV-L2", "device: LED TV", "fix_time: 41 min", "board: power supply",
                 "fix: Q801 replaced", "check: Q801 drain to source"):  # fmt: skip
        assert line in text
    assert "| strip voltage climbs, then collapses |  | backlight string open: not it |" in text


def test_empty_form_asks_for_no_more_than_the_required_boxes(page: Chrome, address: str, root: Path) -> None:
    page.get(address + "/cases/new")
    typed = {"model": "HV-43L2", "symptom": "kettle noise", "root_cause": "rectifier gone", "fix_time": "40"}
    for name, text in typed.items():
        type_into(page, name, text)
    wait(page, lambda page: box(page, "chassis_family") == "HV-L2")
    page.find_element(By.CSS_SELECTOR, ".send .strong").click()
    wait(page, lambda page: "/cases/20" in page.current_url)
    assert len(typed) <= REQUIRED
    assert "device: LED TV" in new_note(root, "rectifier gone")


def test_filling_never_types_over_what_was_typed(page: Chrome, address: str) -> None:
    page.get(address + "/cases/new")
    type_into(page, "device", "television")
    type_into(page, "complaint", "HV-43L2 dead, blinks twice")
    wait(page, lambda page: box(page, "blinks") == "2")
    assert (box(page, "device"), box(page, "chassis_family")) == ("television", "HV-L2")
    type_into(page, "complaint", " no, thrice: three flashes")
    wait(page, lambda page: box(page, "blinks") != "2")
    page.find_element(By.NAME, "symptom").clear()
    type_into(page, "complaint", " and it smells")
    wait(page, lambda page: page.find_elements(By.CSS_SELECTOR, ".box-symptom [data-offers] button"))
    assert box(page, "symptom") == ""


def test_comeback_is_told_while_typing_and_taken_with_one_press(
    page: Chrome, address: str, root: Path
) -> None:
    yesterday = (datetime.date.today() - datetime.timedelta(days=1)).isoformat()
    path = root / "cases/2026/20260620-c5pp.md"
    path.write_text(path.read_text().replace("date: 2026-06-20", f"date: {yesterday}"))
    page.get(address + "/cases/new")
    type_into(page, "model", "TW-7W2")
    type_into(page, "chassis_family", "TN-W2")
    assert not page.find_element(By.CSS_SELECTOR, "[data-alike]").is_displayed()
    type_into(page, "complaint", "does not drain and smells of burning")
    wait(page, lambda page: page.find_element(By.CSS_SELECTOR, "[data-alike]").is_displayed())
    page.find_element(By.CSS_SELECTOR, "[data-alike] button").click()
    assert box(page, "comeback_of") == "20260620-c5pp"


def test_photograph_of_a_file_input_stands_on_the_saved_case(
    page: Chrome, address: str, tmp_path: Path
) -> None:
    (tmp_path / "inside.jpg").write_bytes(picture(size=(900, 600)))
    page.get(address + "/cases/new")
    typed = {"model": "HV-43L2", "symptom": "sparks", "root_cause": "mica plate burnt", "fix_time": "15"}
    for name, text in typed.items():
        type_into(page, name, text)
    page.find_element(By.NAME, "pictures").send_keys(str(tmp_path / "inside.jpg"))
    page.find_element(By.CSS_SELECTOR, ".send .strong").click()
    wait(page, lambda page: "/cases/20" in page.current_url)
    shown = page.find_element(By.CSS_SELECTOR, ".pictures img")
    page.execute_script("arguments[0].scrollIntoView()", shown)
    wait(page, lambda page: page.execute_script("return arguments[0].naturalWidth", shown) == 320)
