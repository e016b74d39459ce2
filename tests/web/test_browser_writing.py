"""Writing up a repair in a real browser: nothing typed is lost."""

from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from flask import Flask
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By

from .browser import MAY_SKIP, WHY, box, served, wait

pytestmark = [pytest.mark.browser, pytest.mark.skipif(MAY_SKIP, reason=WHY)]

KEPT = "return localStorage.getItem('benchlore-draft:new') || ''"


def type_a_draft(page: Chrome, address: str) -> None:
    page.get(address + "/cases/new")
    page.find_element(By.NAME, "complaint").send_keys("sparks behind the grille")
    page.find_element(By.NAME, "body").send_keys("Mica plate **burnt** through.")
    wait(page, lambda page: "burnt" in page.execute_script(KEPT))


def bring_back(page: Chrome) -> None:
    wait(page, lambda page: page.find_element(By.CSS_SELECTOR, "[data-draft-take]").is_displayed())
    page.find_element(By.CSS_SELECTOR, "[data-draft-take]").click()
    assert box(page, "complaint") == "sparks behind the grille"
    assert box(page, "body") == "Mica plate **burnt** through."


def test_draft_survives_a_reload(page: Chrome, address: str) -> None:
    type_a_draft(page, address)
    page.refresh()
    bring_back(page)


def test_draft_survives_leaving_the_page(page: Chrome, address: str) -> None:
    type_a_draft(page, address)
    page.get(address + "/about")
    page.get(address + "/cases/new")
    bring_back(page)


def test_draft_survives_a_server_restart_and_can_still_be_saved(
    chromium: Chrome, make_app: Callable[..., Flask], root: Path
) -> None:
    with served(make_app()) as address:
        chromium.get(address)
        chromium.execute_script("localStorage.clear()")
        type_a_draft(chromium, address)
        port = urlsplit(address).port or 0
        for name, said in {
            "symptom": "sparks inside",
            "root_cause": "mica plate burnt",
            "fix_time": "15",
        }.items():
            chromium.find_element(By.NAME, name).send_keys(said)
        chromium.find_element(By.NAME, "model").send_keys("HV-43L2")
    with served(make_app(), port=port):
        chromium.find_element(By.CSS_SELECTOR, ".send .strong").click()
        wait(chromium, lambda page: "mica plate burnt" in page.title)
        assert chromium.execute_script(KEPT) == ""
    assert any("mica plate burnt" in path.read_text() for path in (root / "cases").rglob("*.md"))


def test_thrown_away_draft_is_not_offered_again(page: Chrome, address: str) -> None:
    type_a_draft(page, address)
    page.refresh()
    page.find_element(By.CSS_SELECTOR, "[data-draft-drop]").click()
    page.refresh()
    assert not page.find_element(By.CSS_SELECTOR, "[data-draft-offer]").is_displayed()


def test_suggestion_fills_the_box_with_the_name_in_use(page: Chrome, address: str) -> None:
    page.get(address + "/cases/new")
    page.find_element(By.NAME, "root_cause").send_keys("pfc")
    wait(page, lambda page: page.find_elements(By.CSS_SELECTOR, ".box-root_cause .suggested button"))
    page.find_element(By.CSS_SELECTOR, ".box-root_cause .suggested button").click()
    assert box(page, "root_cause") == "PFC MOSFET shorted"


def test_suggestion_adds_to_a_list(page: Chrome, address: str) -> None:
    page.get(address + "/cases/new")
    page.find_element(By.NAME, "symptom").send_keys("smells, does not dr")
    wait(page, lambda page: page.find_elements(By.CSS_SELECTOR, ".box-symptom .suggested button"))
    page.find_element(By.XPATH, "//button[normalize-space()='does not drain']").click()
    assert box(page, "symptom") == "smells, does not drain"


def test_preview_follows_the_typing(page: Chrome, address: str) -> None:
    page.get(address + "/cases/new")
    page.find_element(By.NAME, "body").send_keys("**hot** <img src=x onerror=alert(1)>")
    wait(page, lambda page: page.find_elements(By.CSS_SELECTOR, ".preview strong"))
    assert page.find_elements(By.CSS_SELECTOR, ".preview img") == []


def test_bench_timer_survives_a_reload_and_fills_the_fix_time(page: Chrome, address: str) -> None:
    page.find_element(By.CSS_SELECTOR, "[data-timer-go]").click()
    page.execute_script(
        "const since = Date.now() - 52.2 * 60000;"
        "localStorage.setItem('benchlore-timer', JSON.stringify({since, before: 0}))"
    )
    page.get(address + "/cases/new")
    assert page.find_element(By.CSS_SELECTOR, "[data-timer-time]").text == "0:52"
    page.execute_script("scrollBy(0, 300)")  # from under the bar that saves
    page.find_element(By.CSS_SELECTOR, "[data-timer-use]").click()
    assert box(page, "fix_time") == "52 min"


def test_error_summary_leads_to_the_box(page: Chrome, address: str) -> None:
    page.get(address + "/cases/new")
    page.find_element(By.NAME, "fix_time").send_keys("soon")
    page.find_element(By.CSS_SELECTOR, ".send .strong").click()
    wait(page, lambda page: page.find_elements(By.ID, "faults"))
    page.find_element(By.CSS_SELECTOR, '#faults a[href="#f-fix_time"]').click()
    assert page.switch_to.active_element.get_attribute("name") == "fix_time"
    assert page.switch_to.active_element.get_attribute("aria-invalid") == "true"


def test_what_came_back_with_its_faults_is_kept_and_not_offered_twice(page: Chrome, address: str) -> None:
    page.get(address + "/cases/new")
    page.find_element(By.NAME, "complaint").send_keys("hums loudly")
    page.find_element(By.CSS_SELECTOR, ".send .strong").click()
    wait(page, lambda page: page.find_elements(By.ID, "faults"))
    assert not page.find_element(By.CSS_SELECTOR, "[data-draft-offer]").is_displayed()
    assert box(page, "complaint") == "hums loudly"
    page.get(address + "/cases/new")
    wait(page, lambda page: page.find_element(By.CSS_SELECTOR, "[data-draft-offer]").is_displayed())
    page.find_element(By.CSS_SELECTOR, "[data-draft-take]").click()
    assert box(page, "complaint") == "hums loudly"
