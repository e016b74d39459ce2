"""Hold what `serve` tells the system before it starts its threads."""

import os
import platform
import subprocess
import sys

import pytest

# Threads that live at the same time, each with memory of its own; then glibc lists the heaps they took.
_HEAPS_IN_USE = """
import ctypes, threading
from web.cli.serve import share_one_heap
{first}
together = threading.Barrier(4)
def hold():
    together.wait(60)
    held = [bytearray(1000) for _ in range(1000)]
    together.wait(60)
threads = [threading.Thread(target=hold) for _ in range(4)]
for each in threads: each.start()
for each in threads: each.join()
ctypes.CDLL(None).malloc_stats()
"""


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only glibc gives each thread a heap")
@pytest.mark.parametrize(
    ("first", "alone"),
    [pytest.param("share_one_heap()", True, id="shared"), pytest.param("", False, id="as-glibc-has-it")],
)
def test_serve_shares_one_heap_between_threads(first: str, alone: bool) -> None:
    code = _HEAPS_IN_USE.format(first=first)
    usual = {name: value for name, value in os.environ.items() if not name.startswith(("MALLOC_", "GLIBC_"))}
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, env=usual)
    assert "Arena 0:" in run.stderr
    assert ("Arena 1:" not in run.stderr) == alone
