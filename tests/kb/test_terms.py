"""The vocabulary: the trade's, the shop's, and what is said about one that cannot be read."""

from pathlib import Path

import pytest

from kb.errors import NoteError
from kb.terms import load_vocabulary


def shop_terms(folder: Path, text: str | bytes) -> Path:
    path = folder / "terms.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
    return path


def test_built_in_vocabulary_has_the_groups_the_project_promises() -> None:
    terms = load_vocabulary().terms
    assert len({term.concept for term in terms}) == len(terms) >= 150
    kinds = "symptom works board part mechanism action device caution figure"
    assert {term.kind for term in terms} == set(kinds.split())
    for term in terms:  # a sentence for every caution, and for nothing else
        assert term.says.endswith(".") == bool(term.says) == (term.kind == "caution"), term.concept


def test_shop_adds_words_to_a_group_and_groups_of_its_own(tmp_path: Path) -> None:
    term = load_vocabulary().of_kind("symptom")[0]
    text = f"""
[[group]]
concept = "{term.concept}"
kind = "symptom"
phrases = ["gone to sleep for good"]
[[group]]
concept = "ferry wall"
kind = "place"
phrases = ["quay wall"]
"""
    vocabulary = load_vocabulary(shop_terms(tmp_path, text))
    merged = next(t for t in vocabulary.of_kind("symptom") if t.concept == term.concept)
    assert merged.phrases == (*term.phrases, "gone to sleep for good")
    assert [t.phrases for t in vocabulary.of_kind("place")] == [("quay wall",)]


def test_names_of_a_board_and_sentence_of_a_caution(tmp_path: Path) -> None:
    text = """
[[group]]
concept = "panel driver"
kind = "board"
phrases = ["TCB", "glass board"]
[[group]]
concept = "salt"
kind = "caution"
phrases = ["salt crust"]
says = "Salt conducts when it is damp."
"""
    vocabulary = load_vocabulary(shop_terms(tmp_path, text))
    assert vocabulary.other_names("tcb") == ("panel driver", "glass board")
    assert vocabulary.other_names("no such board") == ()
    assert vocabulary.caution_sentence("Salt  Crust") == "Salt conducts when it is damp."
    assert vocabulary.caution_sentence("no such caution") == ""
    assert vocabulary.caution_names(["Salt crust", "live mains", "mains", "loud dog"]) == (
        "salt",
        "mains",
        "loud dog",
    )


def test_shop_says_in_its_own_words_what_to_tell_the_owner(tmp_path: Path) -> None:
    text = """
[[group]]
concept = "gas"
kind = "caution"
tell_owner = ["Ring  the island's fitter."]
instead_of = ["static"]
"""
    caution = load_vocabulary(shop_terms(tmp_path, text)).term("caution", "gas")
    assert caution
    assert caution.tell_owner == ("Ring the island's fitter.",)
    assert {"mains", "static"} <= set(caution.instead_of)
    assert caution.says


GROUP = '[[group]]\nconcept = "a"\nkind = "b"\n'


@pytest.mark.parametrize(("text", "line", "said"), [
    pytest.param(b"\n\xff", 2, "not UTF-8", id="encoding"),
    pytest.param("x = [\n", 1, "not TOML", id="unclosed"),
    pytest.param("\n\na b\n", 3, "not TOML", id="no-equals-sign"),
    pytest.param("\n" + GROUP + 'phrases = "dead"\n', 5, "phrases", id="phrases-no-list"),
    pytest.param(GROUP + 'phrases = ["a"]\n' + GROUP + "phrases = [1]\n", 8, "phrases", id="of-numbers"),
    pytest.param(GROUP + 'phrases = [" "]\n', 4, "phrases", id="empty-phrase"),
    pytest.param('[[group]]\nkind = "b"\nphrases = []\n', 1, "concept: missing", id="no-concept"),
    pytest.param(GROUP + 'says = 1\nphrases = ["a"]\n', 4, "says", id="sentence-no-text"),
    pytest.param(GROUP + 'weight = 1\nphrases = ["a"]\n', 4, "weight", id="unknown-key"),
    pytest.param('\n[terms]\nconcept = "a"\n', 2, "terms", id="another-table"),
    pytest.param('[group]\nconcept = "a"\n', 1, "group", id="single-table"),
])  # fmt: skip
def test_bad_terms_name_file_line_and_remedy(tmp_path: Path, text: str | bytes, line: int, said: str) -> None:
    with pytest.raises(NoteError) as caught:
        load_vocabulary(shop_terms(tmp_path, text))
    assert str(caught.value).startswith(f"terms.toml:{line}: ")
    assert said in str(caught.value)
    assert caught.value.problems[0].remedy


def test_vocabulary_knows_the_hazards_of_sixty_devices_and_more() -> None:
    vocabulary = load_vocabulary()
    cautions = {term.concept for term in vocabulary.of_kind("caution")}
    devices = vocabulary.of_kind("device")
    assert sum(bool(term.cautions) for term in devices) >= 60
    assert all(term.cautions is not None for term in devices)
    assert {caution for term in vocabulary.terms for caution in term.cautions or ()} <= cautions
    assert {name for term in vocabulary.terms for name in term.devices} <= {term.concept for term in devices}


@pytest.mark.parametrize(
    ("device", "cautions"),
    [
        pytest.param("e-bike", {"lithium cells"}, id="lithium"),
        pytest.param("mobile phone", {"lithium cells"}, id="by-a-phrase"),
        pytest.param("gas boiler", {"gas", "carbon monoxide"}, id="gas"),
        pytest.param("fridge", {"refrigerant", "mains"}, id="refrigerant"),
        pytest.param("tube television", {"implosion", "stored charge", "mains"}, id="tube"),
        pytest.param("wheelchair", {"lead-acid cells", "moving parts"}, id="lead-acid"),
    ],
)
def test_vocabulary_names_the_hazards_of_a_device(device: str, cautions: set[str]) -> None:
    assert cautions <= set(load_vocabulary().cautions_of(device) or ())  # common practice, no source


def test_vocabulary_tells_no_hazard_from_no_knowledge() -> None:
    vocabulary = load_vocabulary()
    assert vocabulary.cautions_of("wall clock") == ()
    assert vocabulary.cautions_of("left-handed widget") is None
    assert vocabulary.cautions_of("smell of gas", "symptom") == ("gas", "carbon monoxide")


def test_shop_adds_hazards_to_a_device(tmp_path: Path) -> None:
    text = (
        '[[group]]\nconcept = "kettle"\nkind = "device"\ncautions = ["mains"]\ndevices = ["coffee machine"]\n'
    )
    vocabulary = load_vocabulary(shop_terms(tmp_path, text))
    kettle = vocabulary.term("device", "kettle")
    assert kettle
    assert {"heats", "hums"} <= set(kettle.does)  # as the built-in group has it
    assert vocabulary.cautions_of("kettle") == ("mains",)
    assert next(t for t in vocabulary.of_kind("device") if t.concept == "kettle").devices == (
        "coffee machine",
    )
