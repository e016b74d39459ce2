"""The state of a family's page and its address."""

import datetime
from urllib.parse import parse_qs, unquote, urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st
from werkzeug.routing import Map, Rule

from kb.notes.case import Outcome
from web.views.state import FamilyState, family_address, parse_day, parse_money, say_amount

# The routes that share /families/, as the application has them; test_families opens them for real.
ROUTES = Map(
    [
        Rule("/families/", endpoint="families"),
        Rule("/families/<path:name>", endpoint="family"),
        Rule("/families/new", endpoint="new"),
        Rule("/families/<path:name>/edit", endpoint="edit"),
    ]
)
AMOUNTS = st.none() | st.integers(0, 10_000_000).map(lambda cents: cents / 100)
STATES = st.builds(
    FamilyState,
    outcome=st.sampled_from(["", *[each.value for each in Outcome]]),
    model=st.text(st.characters(codec="utf-8")).map(str.strip),
    since=st.none() | st.dates(),
    parts_cost=AMOUNTS,
    worth=AMOUNTS,
)


@given(STATES)
def test_state_is_its_url(state: FamilyState) -> None:
    assert FamilyState.from_args(state.pairs()) == state


@given(st.text(st.characters(codec="utf-8"), min_size=1))
@pytest.mark.parametrize("pairs", [{}, {"outcome": "fixed"}], ids=["whole", "sliced"])
def test_address_leads_to_the_family_whatever_its_name(pairs: dict[str, str], name: str) -> None:
    parts = urlsplit(family_address(name, pairs))
    query = {key: values[0] for key, values in parse_qs(parts.query).items()}
    endpoint, found = ROUTES.bind("bench").match(unquote(parts.path))
    assert (endpoint, {**found, **query}["name"]) == ("family" if found else "families", name)
    assert query.items() >= pairs.items()


@pytest.mark.parametrize(
    ("name", "address"),
    [
        pytest.param("HV-L2", "/families/HV-L2", id="plain"),
        pytest.param("AB 1/2", "/families/AB%201/2", id="space-and-slash"),
        pytest.param("Größe 7", "/families/Gr%C3%B6%C3%9Fe%207", id="unicode"),
        pytest.param("new", "/families/?name=new", id="another-page"),
        pytest.param("A/edit", "/families/?name=A%2Fedit", id="the-edit-page"),
        pytest.param("edit", "/families/edit", id="only-called-edit"),
        pytest.param("../up", "/families/?name=..%2Fup", id="dots"),
    ],
)
def test_address_of_a_family(name: str, address: str) -> None:
    assert family_address(name) == address


@pytest.mark.parametrize(
    ("said", "day"),
    [("2025-06-30", (2025, 6, 30)), ("2025-06", (2025, 6, 1)), ("2025", (2025, 1, 1))],
)
def test_day_reads_dates_months_and_years(said: str, day: tuple[int, int, int]) -> None:
    assert parse_day(said) == datetime.date(*day)


@pytest.mark.parametrize("said", ["june", "2025-13", "2025-02-30", "25", "-"])
def test_day_that_cannot_be_read_is_said_and_left_out(said: str) -> None:
    state = FamilyState.from_args({"since": said})
    assert state.since is None
    assert state.trouble["since"].startswith(repr(said))
    assert "2025-06-30" in state.trouble["since"]


def test_unknown_outcome_is_said_and_left_out() -> None:
    state = FamilyState.from_args({"outcome": "mended"})
    assert state.said() == ""
    assert "not economic" in state.trouble["outcome"]


@pytest.mark.parametrize(("said", "amount"), [("12.50", 12.5), ("12,50", 12.5), ("0", 0.0)])
def test_money_reads_point_and_comma(said: str, amount: float) -> None:
    assert parse_money(said) == amount


@pytest.mark.parametrize("said", ["-1", "inf", "nan", "much"])
def test_money_refuses_what_is_no_amount(said: str) -> None:
    with pytest.raises(ValueError, match=r".+"):
        parse_money(said)


def test_amount_is_said_as_typed() -> None:
    assert [say_amount(each) for each in (None, 12.5, 150.0)] == ["", "12.50", "150"]
