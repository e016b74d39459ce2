"""A notebook folder: what is found in it, and what needs attention."""

import os
import shutil
from pathlib import Path

import pytest

from kb.attention import Attention
from kb.errors import NotebookError, NoteError
from kb.notebook import LARGEST_NOTE_BYTES, Notebook, open_demo
from tests.kb.made_up_notes import CASE_ID, CASE_PATH, CASE_TEXT, put

FAMILY_TEXT = "---\nchassis_family: HV-L2\ndevice: LED TV\nmodels: [HV-43L2]\n---\n"


def test_missing_folder_says_how_to_make_one(tmp_path: Path) -> None:
    with pytest.raises(NotebookError, match="no such folder; make it with: mkdir -p"):
        Notebook(tmp_path / "nowhere")
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(NotebookError, match="not a folder"):
        Notebook(tmp_path / "file")


def test_scan_finds_notes_and_nothing_else(nb: Notebook) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    put(nb, "cases/tv/old/20200101-aaaa.md", "x")
    put(nb, "families/hv-l2.md", FAMILY_TEXT)
    for name in (
        "cases/2026/.hidden.md",
        "cases/2026/note.txt",
        "families/sub/x.md",
        "notes/x.md",
        "cases/.d/x.md",
    ):
        put(nb, name, "x")
    scanned = nb.scan()
    assert list(scanned) == [CASE_PATH, "cases/tv/old/20200101-aaaa.md", "families/hv-l2.md"]
    assert scanned[CASE_PATH][0] == len(CASE_TEXT)


def test_scan_does_not_go_round_in_circles(nb: Notebook) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    (nb.root / "cases" / "again").symlink_to(nb.root / "cases")
    assert list(nb.scan()) == [CASE_PATH]


@pytest.mark.parametrize(
    "relpath", ["../x.md", "/etc/passwd", "cases/../../x.md", "cases\\x.md", "cases/\0.md"]
)
def test_path_out_of_the_notebook_is_refused(nb: Notebook, relpath: str) -> None:
    with pytest.raises(NotebookError, match="not a path within the notebook"):
        nb.read_bytes(relpath)


def test_unreadable_note_is_a_problem_of_that_note(nb: Notebook) -> None:
    with pytest.raises(NoteError, match="cannot be read"):
        nb.read_case("cases/2026/20260318-zzzz.md")
    put(nb, CASE_PATH, b"x" * (LARGEST_NOTE_BYTES + 1))
    with pytest.raises(NoteError, match="larger than"):
        nb.read_case(CASE_PATH)


def test_case_path(nb: Notebook) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    put(nb, "cases/tv/20200101-aaaa.md", "x")
    assert nb.case_path(CASE_ID) == CASE_PATH
    assert nb.case_path("20200101-aaaa") == "cases/tv/20200101-aaaa.md"
    assert nb.case_path("20200101-bbbb") is None
    assert nb.case_path("../../etc/passwd") is None


def test_families_follow_their_files(nb: Notebook) -> None:
    assert nb.families() == {}
    put(nb, "families/hv-l2.md", FAMILY_TEXT)
    put(nb, "families/bad.md", "nothing")
    assert list(nb.families()) == ["HV-L2"]
    assert nb.family_path("HV-L2") == "families/hv-l2.md"
    put(nb, "families/hv-l2.md", FAMILY_TEXT.replace("HV-L2", "HV-L22"))
    assert list(nb.families()) == ["HV-L22"]
    (nb.root / "families/hv-l2.md").unlink()
    assert nb.families() == {}


def test_state_folder_keeps_itself_out_of_git(nb: Notebook) -> None:
    assert (nb.state_dir / ".gitignore").read_text(encoding="utf-8") == "*\n"


def test_folder_gone_is_told_and_works_again_when_it_is_back(nb: Notebook) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    kept = nb.root.with_name("kept")
    shutil.move(nb.root, kept)
    with pytest.raises(NotebookError, match="no such folder"):
        nb.scan()
    assert not nb.state_dir.exists()
    shutil.move(kept, nb.root)
    assert nb.read_case(CASE_PATH).case == CASE_ID


def test_good_notebook_needs_no_attention(nb: Notebook) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    put(nb, "families/hv-l2.md", FAMILY_TEXT)
    assert Attention(nb).problems() == []


def test_attention_lists_everything_by_file_and_line(nb: Notebook) -> None:
    put(nb, CASE_PATH, CASE_TEXT.replace("tech: RK", "comeback_of: 20250101-aaaa"))
    put(nb, f"cases/{CASE_ID}.md", CASE_TEXT.replace("HV-L2", "HV-43L2"))
    put(
        nb,
        "cases/2026/20260401-bbbb.md",
        CASE_TEXT.replace(CASE_ID, "20260401-bbbb").replace("55 min", "soon"),
    )
    put(nb, "cases/2026/20260402-cccc.md", b"---\n\xff\n---\n")
    put(nb, "families/hv-l2.md", FAMILY_TEXT)
    put(nb, "families/hv-l2-too.md", FAMILY_TEXT)
    put(nb, "shop.toml", "labour_rate = 38\nminimum_charge = none\n")
    put(nb, "terms.toml", "x =")
    said = [str(problem) for problem in Attention(nb).problems()]
    assert said == [
        'cases/2026/20260318-k7f2.md:16: comeback_of: "20250101-aaaa" is no case in this notebook; '
        "write the number of the earlier case, or delete the line",
        'cases/2026/20260401-bbbb.md:13: fix_time: "soon"; write bench minutes as "55 min" or "1 h 20 min"',
        'cases/2026/20260402-cccc.md:2: note: byte ff is not UTF-8, in "\ufffd"; save the note as UTF-8',
        f'cases/{CASE_ID}.md:1: case: "{CASE_ID}" is also in {CASE_PATH}; keep one of the two notes',
        f'cases/{CASE_ID}.md:6: chassis_family: "HV-43L2" (in 1 case) has no family note; '
        "write HV-L2, or add a family note for it",
        'families/hv-l2.md:1: chassis_family: "HV-L2" is also in families/hv-l2-too.md; '
        "keep one of the two notes",
        "shop.toml:2: file: not TOML (Invalid value); write one setting a line, such as labour_rate = 40",
        said[-1],
    ]
    assert said[-1].startswith("terms.toml:1: file: not TOML")


def test_attention_names_the_family_of_a_model_whose_family_was_mistyped(nb: Notebook) -> None:
    put(nb, CASE_PATH, CASE_TEXT.replace("family: HV-L2", "family: HV-L3\nmodel: HV-43L2"))
    put(nb, "families/hv-l2.md", FAMILY_TEXT)
    (problem,) = Attention(nb).problems()
    assert problem.remedy == "write HV-L2, or add a family note for it"


def test_attention_follows_the_files(nb: Notebook) -> None:
    put(nb, "families/hv-l2.md", FAMILY_TEXT)
    put(nb, CASE_PATH, CASE_TEXT.replace("fixed", "mended"))
    assert [problem.field for problem in Attention(nb).problems()] == ["outcome"]
    put(nb, CASE_PATH, CASE_TEXT)
    assert Attention(nb).problems() == []
    put(nb, CASE_PATH, CASE_TEXT.replace("tech: RK", f"comeback_of: {CASE_ID}"))
    assert ["this case itself" in problem.found for problem in Attention(nb).problems()] == [True]
    (nb.root / CASE_PATH).unlink()
    assert Attention(nb).problems() == []


def test_attention_names_keys_that_leave_a_field_empty(nb: Notebook) -> None:
    put(nb, CASE_PATH, CASE_TEXT.replace("tech: RK", "comback_of: 20250101-aaaa\nshelf: B4"))
    put(nb, "families/hv-l2.md", FAMILY_TEXT.replace("---\n", "---\ncautions: [mains]\n", 1))
    remedy = "write {}, or another name if it is your own".format
    assert [str(problem) for problem in Attention(nb).problems()] == [
        f"{CASE_PATH}:16: comback_of: not a field of a note; {remedy('comeback_of')}",
        f"families/hv-l2.md:2: cautions: not a field of a note; {remedy('caution')}",
    ]
    assert nb.read_case(CASE_PATH).unknown["shelf"] == "B4"


def test_folder_that_cannot_be_looked_into_is_told(nb: Notebook, monkeypatch: pytest.MonkeyPatch) -> None:
    put(nb, CASE_PATH, CASE_TEXT)
    real = os.scandir

    def closed(path: str | os.PathLike[str]) -> object:
        if str(path).endswith("2026"):
            raise PermissionError(13, "Permission denied", str(path))
        return real(path)

    monkeypatch.setattr(
        os, "scandir", closed
    )  # root may look into every folder, so the mode alone would not do
    assert [str(problem) for problem in Attention(nb).problems()] == [
        "cases/2026:1: folder: cannot be looked into (Permission denied); make the folder readable"
    ]


def test_bad_shop_terms_leave_the_trades_own(nb: Notebook) -> None:
    put(nb, "terms.toml", "x =")
    assert len(nb.vocabulary().terms) >= 120
    put(nb, "terms.toml", '[[group]]\nconcept = "quay"\nkind = "place"\nphrases = ["pier"]\n')
    assert [term.concept for term in nb.vocabulary().of_kind("place")] == ["quay"]


def test_demo_is_a_copy_without_problems(tmp_path: Path) -> None:
    demo = open_demo(tmp_path)
    assert demo.root.parent == tmp_path
    assert Attention(demo).problems() == []
    assert len(demo.scan()) >= 129
    (demo.root / "cases").rename(demo.root / "gone")
    assert len(open_demo(tmp_path).scan()) >= 129
