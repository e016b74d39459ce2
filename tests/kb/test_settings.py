"""shop.toml: what it may say, and how it is refused."""

from pathlib import Path

import pytest

import kb
from kb.settings import ShopSettings, settings_or_trouble


def settings_of(tmp_path: Path, text: str) -> ShopSettings:
    (tmp_path / "shop.toml").write_text(text, encoding="utf-8")
    settings, problems = settings_or_trouble(tmp_path)
    assert not problems
    return settings


def faults_of(tmp_path: Path, text: str) -> list[str]:
    (tmp_path / "shop.toml").write_bytes(text.encode("latin-1"))
    settings, problems = settings_or_trouble(tmp_path)
    assert settings == ShopSettings()
    return list(map(str, problems))


def test_settings_without_a_file_set_nothing(tmp_path: Path) -> None:
    nothing = ShopSettings(labour_rate=None, currency="", minimum_charge=0.0)
    assert settings_or_trouble(tmp_path) == (nothing, ())


def test_settings_read_rate_currency_and_minimum(tmp_path: Path) -> None:
    settings = settings_of(tmp_path, '# ours\nlabour_rate = 42\ncurrency = "crowns"\nminimum_charge = 12.5\n')
    assert settings == ShopSettings(labour_rate=42.0, currency="crowns", minimum_charge=12.5)


def test_the_demo_shop_has_a_rate_and_a_currency() -> None:
    settings, _ = settings_or_trouble(Path(kb.__file__).parent / "demo")
    assert settings.labour_rate
    assert settings.currency


def test_settings_read_a_file_saved_with_a_byte_order_mark(tmp_path: Path) -> None:
    assert settings_of(tmp_path, "\ufefflabour_rate = 42\n").labour_rate == 42


@pytest.mark.parametrize(
    ("text", "message"),
    [
        pytest.param(
            'currency = "crowns"\nlabour_rate = "42"\n',
            'shop.toml:2: labour_rate: "42"; write what an hour at the bench costs, such as labour_rate = 40',
            id="rate-in-quotes",
        ),
        pytest.param(
            "labour_rate = -1\n", 'shop.toml:1: labour_rate: "-1"; write what', id="rate-below-zero"
        ),
        pytest.param(
            "labour_rate = inf\n", 'shop.toml:1: labour_rate: "inf"; write what', id="rate-without-end"
        ),
        pytest.param(
            "minimum_charge = 1e308\n",
            'shop.toml:1: minimum_charge: "1e+308"; write the',
            id="beyond-reckoning",
        ),
        pytest.param("currency = 3\n", 'shop.toml:1: currency: "3"; write the word', id="currency-a-number"),
        pytest.param(
            "\nminimum = 3\n", "shop.toml:2: minimum: not a setting; only labour_rate", id="unknown"
        ),
        pytest.param("labour_rate 42\n", "shop.toml:1: file: not TOML (Expected '='", id="not-toml"),
    ],
)
def test_settings_say_what_is_wrong_and_what_to_write(tmp_path: Path, text: str, message: str) -> None:
    (fault,) = faults_of(tmp_path, text)
    assert fault.startswith(message)


def test_settings_name_every_fault_at_once(tmp_path: Path) -> None:
    assert len(faults_of(tmp_path, "labour_rate = -1\nminimum_charge = true\n")) == 2


def test_settings_name_the_line_with_bad_bytes(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path, 'labour_rate = 4\ncurrency = "\xff"\n')
    assert fault.startswith("shop.toml:2: file: bytes that are not UTF-8")
