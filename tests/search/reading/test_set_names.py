"""What a complaint says of the set itself is found among a shop's families."""

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from kb.notes.family import FamilyNote
from kb.notes.models import find_family
from search.reading.set_names import FamilyNames, SetNames, read_set_names
from search.reading.text import inside, tokenise

FAMILIES = (
    FamilyNote(chassis_family="HV-L2", device="LED TV", make="Halvern", models=("HV-43L2", "HV-55L2*")),
    FamilyNote(chassis_family="HV-L3", device="LED TV", make="Halvern", models=("HV-43L3",)),
    FamilyNote(chassis_family="Gannet", device="radio", make="Old Mill", models=("9 B",)),
)


def labels(text: str, family: str = "") -> SetNames:
    return read_set_names(text, tokenise(text), FAMILIES, family=family)


@pytest.mark.parametrize(
    ("text", "family", "make", "model"),
    [
        pytest.param("HV-43L2 dead", "HV-L2", "Halvern", "HV-43L2", id="model"),
        pytest.param("the hv 43 l2 in room 4", "HV-L2", "Halvern", "HV-43L2", id="model-in-pieces"),
        pytest.param("HV-55L2-EU 2019", "HV-L2", "Halvern", "HV-55L2", id="wildcard"),
        pytest.param("HW-55L2 no sound", "HV-L2", "Halvern", "HW-55L2", id="one-wrong-character"),
        pytest.param("HV-43L4 no sound", "", "", "", id="between-two-families"),
        pytest.param("our gannet hums", "Gannet", "Old Mill", "", id="family-without-digits"),
        pytest.param("an Old Mill that hums", "", "Old Mill", "", id="make-of-two-words"),
        pytest.param("a halvren telly", "", "Halvern", "", id="make-misspelt"),
        pytest.param("dead, R812 burnt, 43 inch", "", "", "", id="none-of-them"),
        pytest.param("", "", "", "", id="nothing"),
    ],
)
def test_labels_found(text: str, family: str, make: str, model: str) -> None:
    found = labels(text)
    assert (found.family, found.make, found.model) == (family, make, model)


def test_labels_given_family_fills_in_what_the_text_leaves_out() -> None:
    found = labels("dead", family="hv l3")
    assert (found.family, found.make, found.device, found.model) == ("HV-L3", "Halvern", "LED TV", "")


def test_labels_given_family_counts_instead_of_the_one_read() -> None:
    found = labels("HV-43L2 dead", family="Gannet")
    assert (found.family, found.make, found.model) == ("Gannet", "Old Mill", "")


def test_labels_leave_a_known_word_unbent() -> None:
    text = "the halvers are split"
    found = read_set_names(text, tokenise(text), FAMILIES, knows=lambda word: word == "halvers")
    assert found.make == ""


def test_labels_tell_which_words_they_cover() -> None:
    text = "Halvern HV 43L2 is dead"
    found = labels(text)
    assert [token.text for token in tokenise(text) if inside(token, found.spans)] == ["halvern", "hv", "43l2"]


names = st.text(alphabet="HT3L2- *", min_size=1, max_size=8)
notes = st.lists(
    st.builds(
        lambda models, make: (models, make),
        st.lists(names, max_size=3).map(tuple),
        st.sampled_from(["", "Tol", "Halvern"]),
    ),
    max_size=5,
)


@example(drawn=[(("22222*2",), "")], said="22223", make="")
@given(
    drawn=notes, said=st.text(alphabet="HT3L2- ", max_size=12), make=st.sampled_from(["", "Tol", "Halvern "])
)
def test_labels_look_a_name_up_as_a_search_of_all_families_does(
    drawn: list[tuple[tuple[str, ...], str]], said: str, make: str
) -> None:
    families = [
        FamilyNote(chassis_family=f"F{place}-TH3L", device="TV", make=maker, models=models)
        for place, (models, maker) in enumerate(drawn)
    ]
    assert FamilyNames(families).find(make + said) == find_family(make + said, families)
