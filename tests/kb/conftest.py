"""A notebook for each test to write in."""

from pathlib import Path

import pytest

from kb.notebook import Notebook

from .made_up_notes import empty_notebook


@pytest.fixture
def nb(tmp_path: Path) -> Notebook:
    return empty_notebook(tmp_path / "bench")
