"""Complaints read as a technician reads them: the rows of complaints.md, and what must hold for any text."""

from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.notes.blinks import COLOURS, BlinkPattern, Group
from kb.notes.family import FamilyNote
from kb.terms import load_vocabulary
from search.reading.complaint import LONGEST_COMPLAINT, read_complaint
from search.reading.concepts import default_finder
from search.reading.plain_form import CONCEPT_MARK
from search.reading.spelling import Lexicon

FAMILIES = (
    FamilyNote(
        chassis_family="HV-L2", device="LED TV", make="Halvern", models=("HV-43L2", "HV-49L2", "HV-55L2*")
    ),
    FamilyNote(chassis_family="TN-S3", device="LED TV", make="Tarnbrook", models=("TS-32S3", "TS-39S3")),
    FamilyNote(
        chassis_family="TN-W2", device="washing machine", make="Tarnbrook", models=("TW-7W2", "TW-8W2*")
    ),
)


class Row(NamedTuple):
    said: str
    blinks: str
    ideas: tuple[str, ...]
    set_names: tuple[str, ...]


def _rows() -> list[Row]:
    lines = (Path(__file__).parent / "complaints.md").read_text(encoding="utf-8").splitlines()
    rows = []
    for line in lines:
        cells = [cell.strip() for cell in line.strip().strip("|").split("|")]
        if line.startswith("|") and cells[0] not in ("said", "---"):
            said, blinks, ideas, names = cells
            rows.append(Row(said, blinks, _listed(ideas), _listed(names)))
    return rows


def _listed(cell: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in cell.split(",") if part.strip())


ROWS = _rows()


def test_complaint_fixture_has_a_hundred_sentences_of_known_concepts() -> None:
    concepts = {term.concept for term in load_vocabulary().terms}
    assert len({row.said for row in ROWS}) == len(ROWS) >= 100
    assert {idea.lstrip("~") for row in ROWS for idea in row.ideas} <= concepts


@pytest.mark.parametrize("row", [pytest.param(row, id=row.said) for row in ROWS])
def test_complaint_means_what_the_fixture_says(row: Row) -> None:
    reading = read_complaint(row.said, families=FAMILIES)
    wanted = {idea for idea in row.ideas if not idea.startswith("~")}
    unwanted = {idea[1:] for idea in row.ideas if idea.startswith("~")}
    assert str(reading.blinks or "") == row.blinks
    assert wanted <= set(reading.concepts)
    assert not unwanted & set(reading.concepts)
    assert set(row.set_names) <= {reading.family, reading.make, reading.model, reading.device}


patterns = st.builds(
    BlinkPattern,
    alternatives=st.lists(
        st.lists(
            st.builds(Group, count=st.integers(1, 60), length=st.sampled_from(["", "long", "short"])),
            min_size=1,
            max_size=3,
        ).map(tuple),
        min_size=1,
        max_size=3,
    ).map(tuple),
    colour=st.sampled_from(["", *COLOURS]),
    doubtful=st.booleans(),
)


@given(pattern=patterns, blinks=st.sampled_from(["blinks", "flashes", "Light flashing:"]))
def test_complaint_reads_back_a_written_pattern(pattern: BlinkPattern, blinks: str) -> None:
    assert read_complaint(f"{blinks} {pattern}").blinks == pattern


@given(row=st.sampled_from(ROWS))
def test_complaint_means_the_same_in_capitals_and_with_more_space(row: Row) -> None:
    plain = read_complaint(row.said, families=FAMILIES)
    loud = read_complaint(f"  {row.said.upper().replace(' ', '   ')} ", families=FAMILIES)
    assert (loud.blinks, loud.concepts, loud.words) == (plain.blinks, plain.concepts, plain.words)
    assert (loud.family, loud.make, loud.device) == (plain.family, plain.make, plain.device)


@given(text=st.text(max_size=300))
def test_complaint_reads_any_text_without_trouble(text: str) -> None:
    reading = read_complaint(text, families=FAMILIES, lexicon=Lexicon({"picture": 3, "flashes": 2}))
    assert reading.text == text
    assert all(term.weight > 0 and term.term for term in reading.terms)
    assert all(term.weight <= 1 for term in reading.terms if not term.term.startswith(CONCEPT_MARK))
    assert len({term.term for term in reading.terms}) == len(reading.terms)


ABOUT_BLINKS = (
    "blinks flashes six 6 2 long short times or then pause, and not about maybe red light x . ? - +"
)
words = st.sampled_from(ABOUT_BLINKS.split())


@given(said=st.lists(words, max_size=25), pattern=patterns)
def test_complaint_given_pattern_and_family_win(said: list[str], pattern: BlinkPattern) -> None:
    reading = read_complaint(" ".join(said), families=FAMILIES, blinks=pattern, family="tn-w2")
    assert (reading.blinks, reading.family, reading.make) == (pattern, "TN-W2", "Tarnbrook")


def test_complaint_keeps_a_given_family_that_no_note_describes() -> None:
    assert read_complaint("HV-43L2 dead", families=FAMILIES, family="XX-9").family == "XX-9"


def test_complaint_leaves_the_numbers_of_blinks_out_of_the_search() -> None:
    terms = {term.term for term in read_complaint("the light flashes seven times, no sound").terms}
    assert terms == {"light", "flash", "sound", "=blinking light", "=no sound"}


def test_complaint_puts_known_words_for_a_misspelt_one_each_below_one() -> None:
    reading = read_complaint("capasitor bulging", lexicon=Lexicon({"capacitor": 9, "capacitors": 4}))
    weights = {term.term: term.weight for term in reading.terms}
    assert reading.instead_of == {"capasitor": "capacitor"}
    assert reading.words == ("capasitor", "bulging")
    assert weights["capacitor"] < 1
    assert weights["bulg"] == 1
    assert "capasitor" not in weights


def test_complaint_finds_ideas_in_corrected_words_at_the_guess_s_weight() -> None:
    guessed, known = (
        {term.term: term.weight for term in read_complaint(f"it keeps {word}").terms}
        for word in ("cliking", "clicking")
    )
    assert 0 < guessed[CONCEPT_MARK + "clicks"] < known[CONCEPT_MARK + "clicks"]


def test_complaint_does_not_bend_words_the_notes_know_well() -> None:
    lexicon = Lexicon({"clacker": 5, "cracker": 500})
    reading = read_complaint("the clacker is loud", lexicon=lexicon)
    assert reading.instead_of == {}
    assert ("clacker", 1.0) in {(term.term, term.weight) for term in reading.terms}


def test_complaint_names_the_device_as_the_notebook_does() -> None:
    assert read_complaint("our telly is dead", families=FAMILIES).device == "LED TV"
    assert read_complaint("our telly is dead").device == "TV"


def test_complaint_json_has_the_keys_of_the_answer() -> None:
    reading = read_complaint("HV-43L2, capasitor, 3 flashes maybe 4", families=FAMILIES)
    assert reading.as_json() == {
        "text": "HV-43L2, capasitor, 3 flashes maybe 4",
        "words": ["hv-43l2", "capasitor", "flashes"],
        "concepts": ["electrolytic capacitor", "blinking light"],
        "blinks": "3 or 4",
        "family": "HV-L2",
        "make": "Halvern",
        "model": "HV-43L2",
        "device": "LED TV",
        "instead_of": {"capasitor": "capacitor"},
        "not_understood": [],
        "taken_for": {},
        "denied": [],
        "past": [],
        "taken_to_be": "",
        "danger_heard": "",
    }


def test_complaint_default_finder_is_made_once() -> None:
    assert default_finder() is default_finder()


def test_complaint_searches_nothing_that_is_denied_or_past() -> None:
    reading = read_complaint("No loud hum. You fixed the fuse last year. It is dead")
    searched = {term.term for term in reading.terms}
    assert "=no power" in searched
    assert not searched & {"=hum", "hum", "loud", "fuse", "=fuse"}
    assert {"hum", "loud"} <= {term.term for term in reading.denied_terms}
    assert not {"fuse", "=fuse"} & {term.term for term in reading.denied_terms}
    assert [reading.text[start:end] for start, end in reading.denied] == ["loud hum"]
    assert reading.evidence_text == "No         ." + " " * 29 + ". It is dead"


def test_complaint_takes_no_word_of_what_works_for_a_fault() -> None:
    terms = {term.term for term in read_complaint("it does not trip but the drum rumbles").terms}
    assert "=supply holds" in terms
    assert "rumbl" in terms
    assert "trip" not in terms


def test_complaint_takes_denial_back_when_read_literally() -> None:
    reading = read_complaint("No loud hum. You fixed the fuse last year", literal=True)
    assert (reading.denied, reading.past, reading.denied_terms) == ((), (), ())
    assert {"hum", "fuse"} <= {term.term for term in reading.terms}


def test_complaint_takes_a_missing_function_for_a_symptom_of_the_vocabulary() -> None:
    reading = read_complaint("no picture, no red light, it won't turn on")
    assert {"no picture", "no standby light", "no power"} <= set(reading.concepts)
    assert reading.denied == ()


def test_complaint_counts_no_denied_and_no_past_blinks() -> None:
    assert str(read_complaint("My neighbour's one blinks four times, but ours blinks seven").blinks) == "7"
    assert read_complaint("there are no flashes, not one").blinks is None


def test_complaint_takes_answers_for_what_was_said_and_denied() -> None:
    reading = read_complaint("dead", yes=["burnt smell"], no=["smoke"])
    assert "=burnt smell" in {term.term for term in reading.terms}
    assert [term.term for term in reading.denied_terms] == ["=smoke"]
    assert reading.concepts == ("no power", "burnt smell")


def test_complaint_believes_an_answer_before_its_own_reading() -> None:
    reading = read_complaint("it is dead, no smoke", yes=["smoke"], no=["no power"])
    assert reading.concepts == ("smoke",)
    assert {"=smoke"} <= {term.term for term in reading.terms}
    assert "=no power" not in {term.term for term in reading.terms}
    assert "=smoke" not in {term.term for term in reading.denied_terms}


PAST_CLAUSES = ("you fixed the fuse last year", "it used to hum", "the neighbour's one blinks four times")
DENIED_CLAUSES = ("there is no loud hum", "it has no smell of burning", "without sparks", "it isn't noisy")


@given(
    row=st.sampled_from([row for row in ROWS if not row.blinks]),
    clause=st.sampled_from(DENIED_CLAUSES + PAST_CLAUSES),
)
def test_complaint_with_a_denied_or_past_clause_more_searches_no_more(row: Row, clause: str) -> None:
    plain = read_complaint(f"{row.said}.", families=FAMILIES)
    denied = read_complaint(f"{row.said}. {clause.capitalize()}.", families=FAMILIES)
    assert {term.term for term in denied.terms} <= {term.term for term in plain.terms}
    assert denied.blinks == plain.blinks


def test_complaint_without_its_device_keeps_all_that_tells_of_the_fault() -> None:
    reading = read_complaint("the telly is dead, the television hums").without_device
    assert {term.term for term in reading.terms} == {"=no power", "dead", "hum", "=hum"}
    assert reading.evidence_text == "the telly is dead, the television hums"
    assert reading.device == "TV"


@pytest.mark.parametrize(
    ("said", "denied"),
    [
        pytest.param("the fuse in the plug is good, we looked", ["fuse"], id="said-to-be-good"),
        pytest.param("Belt fine. The drum stands still", ["Belt"], id="without-a-verb"),
        pytest.param("the belt isn't loose and the belt is fine", ["loose", "belt"], id="denied-and-good"),
        pytest.param("the fan is not good", [], id="not-good"),
        pytest.param("the speakers are good when cold", [], id="good-on-a-condition"),
        pytest.param("the fan works well enough for a minute", [], id="good-for-a-while"),
        pytest.param("the fan stops, the picture is fine", [], id="something-else-is-good"),
    ],
)
def test_complaint_takes_a_part_that_is_good_for_denied(said: str, denied: list[str]) -> None:
    reading = read_complaint(said)
    assert [said[start:end] for start, end in reading.denied] == denied


@given(text=st.text("no not fuse is good, hum last year we swapped the fan. ", max_size=120))
def test_complaint_spans_lie_in_order_and_apart(text: str) -> None:
    reading = read_complaint(text)
    for spans in (reading.denied, reading.past):
        ends = [place for span in spans for place in span]
        assert ends == sorted(ends)
        assert all(0 <= start < end <= len(text) for start, end in spans)
    assert len(reading.evidence_text) == len(text)


@pytest.mark.parametrize(
    "unit", ["long flash, ", "flash ", "m", "6 gap ", "the fuse is ", "no not ", "on, off, "]
)
def test_complaint_reads_a_text_of_one_thing_over_and_over(unit: str) -> None:
    reading = read_complaint(unit * (LONGEST_COMPLAINT // len(unit) + 1), families=FAMILIES)
    assert len(reading.evidence_text) == LONGEST_COMPLAINT


@pytest.mark.parametrize(
    ("said", "idea"),
    [
        pytest.param("it stinks like a wet sock in a jam jar", "blocked", id="a-comparison"),
        pytest.param("the lens is clean as a whistle", "whistle or whine", id="as-a"),
        pytest.param(
            "the washing machine only gives a dribble", "coffee comes slowly", id="of-another-device"
        ),
        pytest.param(
            "cancel and stop button are open circuit", "runs with the door open", id="an-open-contact"
        ),
        pytest.param("bulging cap in a battery charger", "swollen battery", id="a-charger-is-no-battery"),
        pytest.param("monitor green light 3 long 2 short", "wrong colours", id="a-lamp's-colour"),
        pytest.param("the lid doesn't snap any more", "cracked", id="after-a-not"),
    ],
)
def test_complaint_leaves_out_ideas_that_are_none_of_its_own(said: str, idea: str) -> None:
    assert idea not in read_complaint(said).concepts


@pytest.mark.parametrize(
    ("said", "also"),
    [
        pytest.param("it looks like a blown fuse", "fuse", id="a-guess-is-no-comparison"),
        pytest.param(
            "the coffee machine only gives a dribble", "coffee comes slowly", id="the-device-has-it"
        ),
        pytest.param("it switches the telly off of its own accord", "shuts down", id="other-words"),
        pytest.param("the image vanished", "no picture", id="synonyms"),
    ],
)
def test_complaint_hears_one_idea_in_other_words(said: str, also: str) -> None:
    assert also in read_complaint(said).concepts


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("the dishwasher shows E3 and F7", ("e3", "f7")),
        ("first it says 5E then dE", ("5e", "de")),
        ("C3 and C4 are bulging", ()),
        ("washer shows E18 and stops", ("e18",)),
        ("F05 on the panel", ("f05",)),
        ("Error 4C, then it drains", ("4c",)),
        ("Er 3", ("er3",)),
        ("E:18", ("e18",)),
        ("Error: 18", ("e18",)),
        ("comes up with 5E", ("5e",)),
        ("U11 on the display", ("u11",)),
        ("error 3 times a day", ()),
        ("fuse F801 is open", ()),
        ("E27 lamp flickers", ()),
        ("the bulb E14 is dead", ()),
        ("F05 fuse blown", ()),
        ("fridge shows 8C", ()),
        ("shows AV1 and no picture", ()),
        ("last year it showed E18, now dead", ()),
        ("the panel says F05 and not E18", ("f05",)),
        ("it never shows E18, always F05", ("f05",)),
        ("no F05 or F06, it just won't drain", ()),
    ],
)
def test_fault_codes_are_read(text: str, codes: tuple[str, ...]) -> None:
    reading = read_complaint(text)
    assert reading.codes == codes
    assert not codes or (
        "error code" in reading.concepts and {*codes} <= {each.term for each in reading.terms}
    )
    assert reading.blinks is None
