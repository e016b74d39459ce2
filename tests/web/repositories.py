"""A notebook as a git repository, for the tests of what is recorded there."""

import subprocess
from pathlib import Path


def git(root: Path, *arguments: str) -> str:
    """Run git in a folder and return what it prints."""
    as_whom = ["-c", "user.name=test", "-c", "user.email=test@bench.invalid"]
    command = ["git", "-C", str(root), *as_whom, *arguments]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout
