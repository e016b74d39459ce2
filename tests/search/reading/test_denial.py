"""Denials, the past and other people's sets: the rows of denials.md, and what must hold for any text."""

import itertools
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from search.reading.denial import Scopes, find_scopes, grammatical_denials
from search.reading.scope_words import WORD_LISTS, cut_words


class Row(NamedTuple):
    said: str
    denied: tuple[str, ...]
    past: tuple[str, ...]


def _rows() -> list[Row]:
    rows = []
    for line in (Path(__file__).parent / "denials.md").read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip().strip("|").split("|")]
        if line.startswith("|") and cells[0] not in ("said", "---"):
            said, denied, past = cells
            rows.append(Row(said, _listed(denied), _listed(past)))
    return rows


def _listed(cell: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in cell.split(" / ") if part.strip())


ROWS = _rows()


def test_denials_fixture_has_eighty_sentences() -> None:
    assert len({row.said for row in ROWS}) == len(ROWS) >= 80


def _said(text: str, spans: tuple[tuple[int, int], ...]) -> tuple[str, ...]:
    return tuple(text[start:end] for start, end in spans)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row.said)
def test_scopes_are_as_in_the_table(row: Row) -> None:
    scopes = find_scopes(row.said)
    assert (_said(row.said, scopes.denied), _said(row.said, scopes.past)) == (row.denied, row.past)


@pytest.mark.parametrize(
    "said", ["no picture", "it won't turn on", "stopped heating", "none of the knobs works"]
)
def test_missing_function_is_no_denial(said: str) -> None:
    assert find_scopes(said) == Scopes()


def test_doubt_makes_no_denial() -> None:
    text = "Maybe it isn't the pump. It is not the belt."
    assert _said(text, find_scopes(text).denied) == ("pump", "belt")
    assert find_scopes("maybe it hums, I think, perhaps it is the belt") == Scopes()


@pytest.mark.parametrize("spelling", ["doesn't", "doesn\u2019t", "doesnt", "doesn t", "does n't", "DOESN'T"])
def test_every_spelling_of_not_denies(spelling: str) -> None:
    text = f"it {spelling} hum"
    assert _said(text, find_scopes(text).denied) == ("hum",)


def test_figures_of_speech_are_denials_to_a_linguist_only() -> None:
    text = "it not only hums"
    assert [text[start:end] for start, end in grammatical_denials(text)] == ["only hums"]
    assert find_scopes(text).denied == ()


_CUES = sorted(WORD_LISTS["verb_cues"] | WORD_LISTS["noun_cues"] | {"don't", "isn't", "stopped"})
_PIECES = st.lists(
    st.one_of(
        st.sampled_from(
            [*_CUES, ",", ".", "but", "and", "or", "hum", "smoke", "picture", "the fuse", "it", "we"]
        ),
        st.sampled_from(
            ["used to", "last year", "fixed", "the neighbour's", "now", "until", "if", "?", "-", "(", ":"]
        ),
        st.text(max_size=6),
    ),
    max_size=40,
).map(" ".join)


@given(_PIECES)
def test_spans_lie_in_the_text_in_order_and_apart(text: str) -> None:
    scopes = find_scopes(text)
    for spans in (scopes.denied, scopes.past):
        assert list(spans) == sorted(spans)
    together = sorted((*scopes.denied, *scopes.past))
    assert all(0 <= start < end <= len(text) for start, end in together)
    assert all(left[1] <= right[0] for left, right in itertools.pairwise(together))


@given(_PIECES)
def test_cues_are_never_in_what_they_deny(text: str) -> None:
    cues = [word for word in cut_words(text) if word.is_cue]
    assert not any(
        start < cue.end and cue.start < end for start, end in grammatical_denials(text) for cue in cues
    )


_PLAIN = sorted(
    (
        WORD_LISTS["functions"]
        | WORD_LISTS["faults"]
        | WORD_LISTS["prepositions"]
        | {"it", "the", "i", "maybe", "yesterday"}
    )
    - {"without"}
)


@given(st.lists(st.sampled_from(_PLAIN), max_size=30).map(" ".join))
def test_text_without_cues_has_no_spans(text: str) -> None:
    assert find_scopes(text) == Scopes()


@given(
    _PIECES, st.sampled_from(["It hums.", "The fuse is not blown.", "You fixed it last year.", "No smoke."])
)
def test_another_sentence_changes_nothing_before_it(text: str, more: str) -> None:
    before = find_scopes(f"{text}. ")
    after = find_scopes(f"{text}. {more}")
    end = len(text) + 1
    kinds = (after.denied, after.past, after.named, after.others)
    assert Scopes(*(tuple(span for span in spans if span[0] < end) for spans in kinds)) == before


@pytest.mark.parametrize(
    "piece", ["no ", "not, ", "a, b, or ", "and the ", "no hum and ", "as ", "n't ", "used to ", "- "]
)
def test_hostile_repetition_is_read_to_its_end(piece: str) -> None:
    text = piece * (4000 // len(piece)) + ". No smoke"
    assert _said(text, find_scopes(text).denied)[-1] == "smoke"


def test_many_nots_in_a_row_are_each_in_a_few_lists() -> None:
    _, *words, _ = cut_words("not " * 50)
    assert words[-1].lists == words[1].lists
