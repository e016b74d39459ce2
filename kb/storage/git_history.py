"""Keep a notebook's history in git, when its folder is a repository and that is asked for.

A commit never makes a save fail: the note is on the disk first, and a git that fails becomes a warning.
"""

from __future__ import annotations

import os
import re
import subprocess
from collections.abc import Sequence
from pathlib import Path

from filelock import FileLock, Timeout

from kb.notebook import Notebook

_PATIENCE_S = 20.0  # chosen by us: a commit of one note takes well under a second
MANY = 100  # chosen by us: more notes than a save ever changes; an import always changes something
_ADDRESS_HOST = "bench.invalid"  # a name that no machine can have (RFC 2606, section 2)


def is_repository(nb: Notebook) -> bool:
    """Tell whether the notebook's folder lies in a git working tree (False when git is not installed)."""
    done = _git(nb.root, "rev-parse", "--is-inside-work-tree")
    return done is not None and done.returncode == 0 and done.stdout.strip() == "true"


def commit_note(nb: Notebook, relpaths: Sequence[str], *, tech: str, message: str) -> str:
    """Commit the given notes, and nothing else that may be staged, and return "" or a warning.

    relpaths: paths within the notebook; one that is gone is committed as removed. tech: who did it, author
    of the commit with an address that exists nowhere. message: one line.
    """
    try:
        # git has a lock of its own, but fails at once where this waits.
        with FileLock(nb.state_dir / "git.lock").acquire(timeout=_PATIENCE_S, poll_interval=0.01):
            return _commit(nb.root, list(relpaths), tech, " ".join(message.split()) or "Change a note")
    except (Timeout, OSError, NotImplementedError) as error:
        return _warning(str(error) or "git is busy")


def _commit(root: Path, relpaths: list[str], tech: str, message: str) -> str:
    paths = [
        f":(literal){relpath}"
        for relpath in relpaths
        if (root / relpath).exists() or _is_known(root, relpath)
    ]
    if not paths:
        return ""
    # By standard input, for the notes of an import are more than a command line can hold.
    named = ("--pathspec-from-file=-", "--pathspec-file-nul")
    listed = "\0".join(paths)
    added = _git(root, "add", "--all", *named, listed=listed)
    if added is None or added.returncode != 0:
        return _warning(_said(added))
    if len(paths) < MANY:
        changed = _git(root, "diff", "--cached", "--quiet", "HEAD", "--", *paths)
        if changed is not None and changed.returncode == 0:
            return ""
    author = _author(tech)
    options = ("--quiet", "--no-gpg-sign", f"--author={author}", f"--message={message}", "--only")
    done = _git(root, "commit", *options, *named, author=author, listed=listed)
    return "" if done is not None and done.returncode == 0 else _warning(_said(done))


def _is_known(root: Path, relpath: str) -> bool:
    """Tell whether git has the note: one that is gone and was never committed is nothing to it."""
    done = _git(root, "ls-files", "--error-unmatch", "--", f":(literal){relpath}")
    return done is not None and done.returncode == 0


def _author(tech: str) -> str:
    name = re.sub(r"[<>\x00-\x1f]", "", tech).strip(" .,:;\"'") or "bench"
    address = re.sub(r"[^a-z0-9]+", ".", name.casefold()).strip(".") or "bench"
    return f"{name} <{address}@{_ADDRESS_HOST}>"


def _git(
    root: Path, *arguments: str, author: str = "", listed: str = ""
) -> subprocess.CompletedProcess[str] | None:
    """Run git in the notebook; None when it is not installed or does not come back."""
    # Variables of a surrounding git (a hook, say) would lead to another repository.
    environment = {key: value for key, value in os.environ.items() if not key.startswith("GIT_")}
    environment |= {"GIT_TERMINAL_PROMPT": "0", "GIT_EDITOR": "true", "LC_ALL": "C"}
    command = ["git", "-C", str(root), *arguments]
    if author and not _has_committer(root):
        name, _, address = author.partition(" <")
        environment |= {"GIT_COMMITTER_NAME": name, "GIT_COMMITTER_EMAIL": address.rstrip(">")}
    try:
        return subprocess.run(
            command,
            env=environment,
            input=listed,
            capture_output=True,
            text=True,
            errors="replace",
            timeout=_PATIENCE_S,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return None


def _has_committer(root: Path) -> bool:
    done = _git(root, "config", "user.email")
    return done is not None and done.returncode == 0 and bool(done.stdout.strip())


def _said(done: subprocess.CompletedProcess[str] | None) -> str:
    if done is None:
        return "git is not installed, or did not come back in time"
    lines = (done.stderr.strip() or done.stdout.strip()).splitlines()
    return lines[0] if lines else f"git ended with {done.returncode}"


def _warning(said: str) -> str:
    return f"saved, but not committed: {said}"
