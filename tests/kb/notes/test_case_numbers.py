"""Case numbers."""

import datetime

import pytest

from kb.notes.case import ALPHABET, is_case_id, new_case_id

DAY = datetime.date(2026, 3, 18)


def test_alphabet_is_crockfords() -> None:
    # Douglas Crockford, Base 32, https://www.crockford.com/base32.html (from memory): ten digits and the
    # letters without I, L, O and U.
    assert ALPHABET == "0123456789abcdefghjkmnpqrstvwxyz"


def test_new_number_is_one() -> None:
    number = new_case_id(DAY, lambda _: False)
    assert is_case_id(number)
    assert number.startswith("20260318-")


def test_new_number_is_not_taken() -> None:
    asked: list[str] = []

    def is_taken(number: str) -> bool:
        asked.append(number)
        return len(asked) < 3

    assert [new_case_id(DAY, is_taken)] == asked[2:]


def test_a_full_day_is_told() -> None:
    with pytest.raises(RuntimeError, match="2026-03-18"):
        new_case_id(DAY, lambda _: True)


@pytest.mark.parametrize("text", [
    "", "20260318", "20260318-k7f", "20260318-k7f22", "20260318-K7F2", "20260318-koll", "20260231-k7f2",
    "20261318-k7f2", "20260318_k7f2", "2026031-8k7f2", "20260318-k7f2\n", "\u0662\u0660260318-k7f2",
])  # fmt: skip
def test_what_is_no_number(text: str) -> None:
    assert not is_case_id(text)
