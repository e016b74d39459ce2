"""Parts: read from a note's entries, grouped by type, and counted for the shelf."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from search.families.spares import part_figures, part_key, read_part, shelf_count


@pytest.mark.parametrize(
    ("entry", "name", "count"),
    [
        pytest.param("Q801 20N60C3", "20N60C3", 1, id="place-and-type"),
        pytest.param("R812 10R", "10R", 1, id="place-and-value"),
        pytest.param("F801 T4A", "T4A", 1, id="place-and-fuse-rating"),
        pytest.param("T4A 250V", "T4A 250V", 1, id="fuse-rating-is-no-place"),
        pytest.param("IC801", "IC801", 1, id="place-alone-stays"),
        pytest.param("diffuser clips x3", "diffuser clips", 3, id="number-behind"),
        pytest.param("tact switch 6x6 x2", "tact switch 6x6", 2, id="number-behind-a-size"),
        pytest.param("2x 1000uF 16V", "1000uF 16V", 2, id="number-before"),
        pytest.param("4 x C851 1000uF 10V", "1000uF 10V", 4, id="number-and-place"),
        pytest.param("C851-C854 1000uF 10V", "1000uF 10V", 4, id="range-of-places"),
        pytest.param("C914 and C915 680uF 25V", "680uF 25V", 2, id="two-places"),
        pytest.param("LED strips 43 set of 4", "LED strips 43 set of 4", 1, id="a-set-is-one"),
        pytest.param("M901 fan 12V 80 mm", "fan 12V 80 mm", 1, id="motor-place"),
        pytest.param("M3 screw x4", "M3 screw", 4, id="thread-is-no-place"),
        pytest.param("10 x 20 mm strip", "10 x 20 mm strip", 1, id="size-is-no-number"),
        pytest.param("  mica   cover ", "mica cover", 1, id="spaces"),
    ],
)
def test_read_part_drops_the_place_and_keeps_the_type(entry: str, name: str, count: int) -> None:
    assert read_part(entry)[1:] == (name, count)


@given(st.text(min_size=1))
def test_read_part_counts_at_least_one(entry: str) -> None:
    assert read_part(entry)[2] >= 1


def test_part_key_forgives_case_spaces_and_the_micro_sign() -> None:
    assert part_key("1000 µF 16 V") == part_key("1000uF 16V") == part_key("1000μf 16v")


def test_part_figures_group_by_type_over_places() -> None:
    figures = part_figures(
        [["Q801 20N60C3", "F801 T4A"], ["Q802 20n60c3"], [], ["Q801 20N60C3 x2", "F801 T4A"]]
    )
    assert [(part.part, part.used, part.repairs, part.per_ten_repairs) for part in figures] == [
        ("20N60C3", 4, 3, 10.0),
        ("T4A", 2, 2, 5.0),
    ]
    # Three of four repairs took it, four pieces: the likely number of repairs, times four thirds.
    assert figures[0].keep_for_next_ten == -(-shelf_count(3, 4) * 4 // 3)
    assert figures[1].keep_for_next_ten == shelf_count(2, 4)


def test_parts_changed_in_pairs_are_kept_in_pairs() -> None:
    pairs = part_figures([["C914 and C915 680uF 25V"], [], [], []])
    singles = part_figures([["C914 680uF 25V"], [], [], []])
    assert pairs[0].keep_for_next_ten == 2 * singles[0].keep_for_next_ten


def test_part_figures_of_no_repair_are_none() -> None:
    assert part_figures([]) == ()


def test_one_repair_does_not_fill_the_shelf() -> None:
    assert shelf_count(1, 1) == 3


@given(st.integers(0, 60), st.integers(1, 60))
def test_shelf_count_grows_with_use_and_shrinks_with_experience(used: int, repairs: int) -> None:
    assert shelf_count(used + 1, repairs) >= shelf_count(used, repairs) >= shelf_count(used, repairs + 1)
