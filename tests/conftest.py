"""What holds for every test."""

import os
import tempfile

import pytest
from flask import Flask
from hypothesis import settings
from jinja2 import BytecodeCache
from jinja2.bccache import Bucket

from kb.notebook import open_demo
from kb.terms import load_vocabulary
from search.bench import Bench
from tests.search.family_slow import SlowNotebook

# No test depends on timing: a busy machine must not fail a property.
settings.register_profile("house", deadline=None)
settings.load_profile("house")


class CompiledTemplates(BytecodeCache):
    """Keep compiled templates: every app of every test would compile them again."""

    def __init__(self) -> None:
        self.compiled: dict[str, bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        if bucket.key in self.compiled:
            bucket.bytecode_from_string(self.compiled[bucket.key])

    def dump_bytecode(self, bucket: Bucket) -> None:
        self.compiled[bucket.key] = bucket.bytecode_to_string()


Flask.jinja_options = {"bytecode_cache": CompiledTemplates()}


def pytest_configure(config: pytest.Config) -> None:
    """Give all processes of a run one cache folder of their own."""
    if "PYTEST_XDIST_WORKER" not in os.environ:
        folder = tempfile.TemporaryDirectory(prefix="benchlore-cache-")
        config.add_cleanup(folder.cleanup)
        os.environ["XDG_CACHE_HOME"] = folder.name


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int | None:
    """Share the whole suite between all cores (None), but run named tests here: starting costs them more."""
    return None if config.args_source is config.ArgsSource.TESTPATHS else 0


@pytest.fixture(scope="session")
def demo_bench(tmp_path_factory: pytest.TempPathFactory) -> Bench:
    """A bench on the demo notebook, indexed and learned once, for tests that only ask it."""
    return Bench(open_demo(tmp_path_factory.mktemp("demo")))


@pytest.fixture(scope="session")
def slow_demo(demo_bench: Bench) -> SlowNotebook:
    """The demo notebook as the slow script counts it."""
    root = demo_bench.notebook.root
    return SlowNotebook(root, load_vocabulary(root / "terms.toml"))
