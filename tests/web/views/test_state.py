"""The search page's state is its URL."""

from urllib.parse import parse_qsl, urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st
from werkzeug.datastructures import MultiDict

from web.views.state import DEFAULT_LIMIT, SearchState

texts = st.text(st.characters(exclude_categories=("Cs",)), max_size=30).map(str.strip)


def read_back(url: str) -> SearchState:
    return SearchState.from_args(MultiDict(parse_qsl(urlsplit(url).query, keep_blank_values=True)))


@given(
    q=texts,
    family=texts,
    blinks=texts,
    causes=st.lists(texts.filter(bool), unique=True, max_size=4),
    noted=st.dictionaries(texts.filter(bool), texts.filter(bool), max_size=3),
)
def test_state_survives_its_url(
    q: str, family: str, blinks: str, causes: list[str], noted: dict[str, str]
) -> None:
    state = SearchState(
        q=q,
        family=family,
        blinks=blinks,
        rule_out=tuple(causes[:2]),
        yes=tuple(causes[2:3]),
        no=tuple(causes[3:]),
        noted=tuple(noted.items()),
        literal=bool(causes),
        mode="phone" if noted else "bench",
        limit=40,
    )
    assert read_back(state.url()) == state


def test_state_taking_back_undoes_ruling_out() -> None:
    state = SearchState(q="dead", rule_out=("fuse open",))
    ruled = read_back(f"{state.url()}&rule_out=PFC+MOSFET+shorted&rule_out=PFC+MOSFET+shorted")
    assert ruled.rule_out == ("fuse open", "PFC MOSFET shorted")
    assert ruled.taking_back("PFC MOSFET shorted") == state


@pytest.mark.parametrize(
    ("said", "limit"),
    [
        pytest.param("", DEFAULT_LIMIT, id="nothing"),
        pytest.param("0", 1, id="too-few"),
        pytest.param("99999", 200, id="too-many"),
        pytest.param("99999999999999999999", DEFAULT_LIMIT, id="absurd"),
        pytest.param("-3", DEFAULT_LIMIT, id="negative"),
        pytest.param("²", DEFAULT_LIMIT, id="not-a-figure"),
    ],
)
def test_state_keeps_the_limit_within_bounds(said: str, limit: int) -> None:
    assert SearchState.from_args(MultiDict({"limit": said})).limit == limit


def test_state_url_leaves_defaults_out() -> None:
    assert SearchState().url() == "/"
    assert SearchState(q="no sound").url() == "/?q=no+sound"


def test_state_keeps_the_last_reading_and_drops_an_emptied_one() -> None:
    args = MultiDict([("at", "fuse"), ("noted", "2 V"), ("at", "fuse"), ("noted", "5 V")])
    assert SearchState.from_args(args).noted == (("fuse", "5 V"),)
    args = MultiDict([("at", "fuse"), ("noted", "2 V"), ("at", "fuse"), ("noted", "")])
    assert SearchState.from_args(args).noted == ()


def test_state_takes_an_answer_of_the_owner_back() -> None:
    state = SearchState(q="dead").told("clicking", True).told("clicking", False)
    assert (state.yes, state.no) == ((), ("clicking",))
    assert state.told("clicking", None) == SearchState(q="dead")
