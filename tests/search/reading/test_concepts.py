"""The trade's ideas are found however they are worded, and not where they are denied."""

import re
from collections import defaultdict
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.terms import Term, Vocabulary, load_vocabulary
from search.reading.concepts import ConceptFinder, default_finder
from search.reading.plain_form import plain_form, terms_of
from search.reading.text import is_stop_word, tokenise
from search.reading.word_lists import word_lists

VOCABULARY = load_vocabulary()


def concepts(text: str, finder: ConceptFinder | None = None) -> list[str]:
    return [hit.concept for hit in (finder or default_finder()).find(tokenise(text))]


def finder_of(*groups: tuple[str, str, tuple[str, ...]]) -> ConceptFinder:
    return ConceptFinder(
        Vocabulary(tuple(Term(concept=name, kind=kind, phrases=phrases) for name, kind, phrases in groups))
    )


@pytest.mark.parametrize(
    "term", [pytest.param(term, id=term.concept) for term in VOCABULARY.terms if term.kind != "caution"]
)
def test_vocabulary_finds_every_phrase_as_its_own_group(term: Term) -> None:
    for phrase in (term.concept, *term.phrases):
        if "[" not in phrase:
            assert default_finder().concept_of(phrase, term.kind) == term.concept, phrase


def test_vocabulary_knows_every_kind_of_thing_that_a_phrase_stands_beside() -> None:
    classes = {kind for term in VOCABULARY.of_kind("device") for kind in term.does}
    phrases = [phrase for term in VOCABULARY.terms for phrase in term.phrases]
    beside = {name for phrase in phrases for name in re.findall(r"\[(.+?)\]", phrase)}
    assert beside == {"part"} | classes
    devices = {term.concept for term in VOCABULARY.of_kind("device")}
    listed = word_lists()["one_set"].values()
    assert {device for names in listed for device in names.split(", ")} <= devices


def test_vocabulary_tells_an_idea_once_where_two_words_tell_it() -> None:
    classes = defaultdict[str, list[str]](list)
    for term in VOCABULARY.of_kind("device"):
        for kind in term.does:
            classes[kind].append(term.concept)
    for term in VOCABULARY.terms:
        beside = [each.groups() for each in map(re.compile(r"\[(.+)\] (.+)").match, term.phrases) if each]
        said = [f"{device} {words}" for kind, words in beside for device in classes[kind]]
        assert [text for text in said if concepts(text).count(term.concept) > 1] == []


@pytest.mark.parametrize("kind", ["symptom", "mechanism", "board", "part"])
def test_vocabulary_has_a_concept_name_in_one_group_only(kind: str) -> None:
    names = [{name.casefold() for name in (term.concept, *term.phrases)} for term in VOCABULARY.of_kind(kind)]
    assert not any(one & other for one, other in combinations(names, 2))


@pytest.mark.parametrize(
    ("text", "found"),
    [
        pytest.param("it won't even turn on", ["no power"], id="small-words-inside"),
        pytest.param("refuses to heat", ["no heat"], id="refuses-to"),
        pytest.param("it has stopped draining", ["does not drain"], id="stopped-doing"),
        pytest.param("no longer spins", ["does not spin"], id="no-longer"),
        pytest.param("without any sound", ["no sound"], id="without"),
        pytest.param("won't turn the telly on", ["no power", "TV"], id="name-of-the-set-inside"),
        pytest.param("a dead line", ["lines on the picture"], id="longest-phrase-wins"),
        pytest.param("not dead, clicks", ["clicks"], id="denied"),
        pytest.param("won't stop beeping", ["runs on", "beeps"], id="not-stopping-is-doing"),
        pytest.param("No. Turns on", [], id="no-phrase-across-a-full-stop"),
        pytest.param("no picture but sound", ["sound but no picture", "no picture"], id="denied-inside"),
        pytest.param("bulging capacitors", ["swollen", "electrolytic capacitor"], id="part-inside"),
        pytest.param("LED strip open", ["LED strip", "open circuit"], id="right-after-a-part"),
        pytest.param("open LED strip", ["open circuit", "LED strip"], id="right-before-a-part"),
        pytest.param("the door was open. Fuse fine", ["fuse"], id="not-beside-across-a-full-stop"),
        pytest.param("open the back", [], id="open-alone"),
        pytest.param("a short time, two short ones", [], id="short-alone"),
        pytest.param("mains live, high voltage", [], id="cautions-are-not-searched"),
        pytest.param("", [], id="nothing"),
    ],
)  # fmt: skip
def test_concepts_found(text: str, found: list[str]) -> None:
    assert concepts(text) == found


def test_concepts_give_a_shared_phrase_to_the_first_group() -> None:
    finder = finder_of(("hum", "symptom", ("buzz",)), ("whistle", "symptom", ("buzz",)))
    assert concepts("it buzzes", finder) == ["hum"]


def test_concepts_join_a_group_named_by_an_earlier_phrase() -> None:
    finder = finder_of(
        ("dark picture", "symptom", ("no backlight",)), ("no backlight", "symptom", ("dark as the hold",))
    )
    assert concepts("dark as the hold", finder) == ["dark picture"]
    assert finder.concept_of("no backlight", "symptom") == "dark picture"


def test_concepts_keep_groups_of_different_kinds_apart() -> None:
    finder = finder_of(("door lock", "part", ()), ("door lock", "symptom", ("door stuck",)))
    assert finder.concept_of("door stuck", "symptom") == "door lock"
    assert finder.concept_of("door lock", "symptom") == ""


def test_concepts_ignore_phrases_of_small_words_alone() -> None:
    assert concepts("it is the", finder_of(("odd", "symptom", ("it is", "not")))) == []


def test_concepts_come_from_a_shop_s_own_terms_too(tmp_path: Path) -> None:
    own = tmp_path / "terms.toml"
    own.write_text('[[group]]\nconcept = "no power"\nkind = "symptom"\nphrases = ["as quiet as a crypt"]\n')
    assert concepts("it is quiet as a crypt", ConceptFinder(load_vocabulary(own))) == []
    assert concepts("as quiet as a crypt", ConceptFinder(load_vocabulary(own))) == ["no power"]


def test_concepts_tell_where_they_stand() -> None:
    hit = default_finder().find(tokenise("since Monday it does not turn on at all"))[0]
    assert (hit.kind, hit.start_token, hit.end_token) == ("symptom", 4, 7)


def _slow(text: str) -> list[str]:
    """Return phrases found by trying every phrase at every place, longest first, then leftmost."""
    stems = [token.stem for token in tokenise(text)]
    tries = [
        (-len(phrase.split()), place, phrase.split(), name)
        for name, _, phrases in GROUPS
        for phrase in phrases
        for place in range(len(stems))
    ]
    found: list[tuple[int, str]] = []
    for less, place, phrase, name in sorted(tries):
        if stems[place : place - less] == phrase:
            found.append((place, name))
            stems[place : place - less] = ["-"] * len(phrase)
    return [name for _, name in sorted(found)]


GROUPS = (
    ("one", "action", ("red", "green blue red")),
    ("two", "action", ("red green", "blue")),
    ("three", "action", ("green green", "red blue green")),
)


@given(st.lists(st.sampled_from(["red", "green", "blue", "amber"]), max_size=20).map(" ".join))
def test_concepts_agree_with_trying_every_phrase_everywhere(text: str) -> None:
    assert concepts(text, finder_of(*GROUPS)) == _slow(text)


def _terms(text: str) -> list[str]:
    return terms_of(tokenise(text), default_finder().concepts(tokenise(text)))


def test_index_terms_are_stems_and_concepts_without_small_change() -> None:
    assert _terms("It is dead, 3 flashes, 385 V on C809") == [
        "dead", "flash", "385v", "c809", "=no power", "=blinking light",
    ]  # fmt: skip


def test_index_terms_meet_in_different_words_for_one_thing() -> None:
    one = set(_terms("won't turn on, timing board suspected"))
    other = set(_terms("completely dead; T-con"))
    assert one & other == {"=no power", "=timing board"}


@given(st.text(max_size=300))
def test_index_terms_of_any_text_are_plain(text: str) -> None:
    assert all(term and "\n" not in term for term in _terms(text))


def test_vocabulary_has_no_phrase_that_comes_down_to_one_word_of_a_story() -> None:
    for term in VOCABULARY.terms:
        for phrase in term.phrases if term.kind != "caution" else ():
            forms = [sense.form for sense in plain_form(tokenise(phrase))]
            assert len(forms) != 1 or not is_stop_word(forms[0]), phrase
            assert forms != ["noth"], phrase  # "nothing" alone says nothing
