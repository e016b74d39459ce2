"""Record saves as git commits, when that is asked for and the notebook's folder is a repository.

A repository's settings came with the notebook, perhaps from somebody else. So only a few commands are used,
none of which looks at the working tree: no filter, hook, monitor, editor, pager, signing program, helper or
remote is ever asked (tests/web/hostile/tricks.py).
"""

import hashlib
import os
import re
import stat
import subprocess
from collections.abc import Sequence
from pathlib import Path

from filelock import FileLock, Timeout

from kb.files import read_file
from kb.notebook import Notebook

_PATIENCE_S = 20.0  # chosen by us: a commit of one note takes well under a second
MANY = 100  # chosen by us: more notes than a save ever changes; an import always changes something
_ADDRESS_HOST = "bench.invalid"  # a name that no machine can have (RFC 2606, section 2)
# Writing the index or a branch runs hooks, and reading the index asks the file monitor. These options
# override every settings file.
_OFF = ("-c", f"core.hooksPath={os.devnull}", "-c", "core.fsmonitor=false")
# With no protocol allowed, git cannot fetch objects that the repository lacks.
_ENVIRONMENT = {"GIT_ALLOW_PROTOCOL": "", "GIT_TERMINAL_PROMPT": "0", "LC_ALL": "C"}


class _GitError(Exception):
    """Say why something cannot be committed."""


def why_no_history(nb: Notebook) -> str:
    """Return "" when saves can be recorded in git, else the reason with what to do."""
    try:
        _run(_repository(nb.root), "rev-parse", "--git-dir")
    except (_GitError, OSError) as error:
        return f"{nb.root}: {error}"
    return ""


def commit_note(nb: Notebook, relpaths: Sequence[str], *, tech: str, message: str) -> str:
    """Commit the given notes, removed ones too, and nothing else that is staged; return "" or a warning."""
    try:
        # git fails at once when its own lock is taken; ours waits.
        with FileLock(nb.state_dir / "git.lock").acquire(timeout=_PATIENCE_S, poll_interval=0.01):
            _commit(nb.root, relpaths, _author(tech), " ".join(message.split()) or "Change a note")
    except (_GitError, Timeout, OSError, NotImplementedError) as error:
        return f"saved, but not committed: {str(error) or 'git is busy'}"
    return ""


def _commit(root: Path, relpaths: Sequence[str], author: str, message: str) -> None:
    git_dir = _repository(root)
    if (git_dir / "MERGE_HEAD").exists():
        raise _GitError("a merge is under way; end it with: git add --all && git commit")
    within = root.relative_to(git_dir.parent).as_posix()
    kind = _run(git_dir, "rev-parse", "--show-object-format").decode().strip()  # sha1 or sha256
    named = ((os.path.normpath(f"{within}/{each}"), _version(root / each, kind)) for each in relpaths)
    notes = {os.fsencode(path): note for path, note in named}
    head = _run(git_dir, "rev-parse", "--quiet", "--verify", "HEAD^{commit}", may_fail=True).decode().strip()
    if len(notes) < MANY:
        known = _known(git_dir, head, list(notes))
        notes = {path: note for path, note in notes.items() if known.get(path, ("", "")) != note[:2]}
    if not notes:
        return
    null = "0" * 2 * hashlib.new(kind, usedforsecurity=False).digest_size
    # The index comes first: if the commit fails, the notes stay staged, and no later commit reverts them.
    staged = [
        b"%b\t%b\0" % (f"{mode or 0} {name or null}".encode(), path)
        for path, (mode, name, _) in notes.items()
    ]
    _run(git_dir, "update-index", "-z", "--index-info", given=b"".join(staged))
    commit = f"commit HEAD\nauthor {author} now\ncommitter {_committer(git_dir) or author} now\n"
    counted = b"data %d\n%b\n"
    lines = [commit.encode(), counted % (len(message.encode()), message.encode())]
    lines += [f"from {head}\n".encode()] if head else []
    for path, (mode, _, data) in notes.items():
        quoted = b'"%s"' % re.sub(rb'(["\\])', rb"\\\1", path).replace(b"\n", rb"\n")
        changed = b"M %b inline %b\n" % (mode.encode(), quoted) + counted % (len(data), data)
        lines.append(changed if mode else b"D %b\n" % quoted)
    _run(git_dir, "fast-import", "--quiet", "--date-format=now", given=b"".join(lines))


def _repository(root: Path) -> Path:
    """Return the .git folder around the notebook. Raises: _GitError when something in it leads elsewhere."""
    git_dir = next((each / ".git" for each in (root, *root.parents) if os.path.lexists(each / ".git")), None)
    if git_dir is None:
        raise _GitError("not a git repository; make it one with: git init")
    elsewhere = f"leads elsewhere; keep the history in {git_dir} itself, or leave out --git"
    if os.path.islink(git_dir) or not git_dir.is_dir():
        raise _GitError(f"{git_dir}: a file or a link, {elsewhere}")
    if os.path.lexists(git_dir / "commondir"):
        raise _GitError(f"{git_dir / 'commondir'}: {elsewhere}")
    for folder, folders, files in os.walk(git_dir):
        # Objects are thousands of files, and never change.
        deep = os.path.dirname(folder) == str(git_dir / "objects")
        for name in folders if deep else (*folders, *files):
            path = os.path.join(folder, name)
            if stat.S_IFMT(os.lstat(path).st_mode) not in (stat.S_IFDIR, stat.S_IFREG, stat.S_IFSOCK):
                raise _GitError(f"{path}: not a plain file, {elsewhere}")
    return git_dir


def _version(path: Path, kind: str) -> tuple[str, str, bytes]:
    """Return what git stores for a note: mode, object id and bytes; all are empty for a removed note."""
    try:
        linked = path.is_symlink()
        data = os.fsencode(os.readlink(path)) if linked else read_file(path)
    except FileNotFoundError:
        return "", "", b""
    name = hashlib.new(kind, b"blob %d\0" % len(data) + data, usedforsecurity=False).hexdigest()
    return "120000" if linked else "100644", name, data


def _known(git_dir: Path, head: str, paths: Sequence[bytes]) -> dict[bytes, tuple[str, str]]:
    """Return mode and object id of the notes in the last commit."""
    if not head:
        return {}
    listed = _run(git_dir, "ls-tree", "-z", "--full-tree", head, "--", *map(os.fsdecode, paths))
    entries = (entry.partition(b"\t") for entry in listed.split(b"\0") if entry)
    return {path: (kind.split()[0].decode(), kind.split()[2].decode()) for kind, _, path in entries}


def _author(tech: str) -> str:
    name = re.sub(r"[<>\x00-\x1f]", "", tech).strip(" .,:;\"'") or "bench"
    address = re.sub(r"[^a-z0-9]+", ".", name.casefold()).strip(".") or "bench"
    return f"{name} <{address}@{_ADDRESS_HOST}>"


def _committer(git_dir: Path) -> str:
    """Return the user's own name and address, "" when git knows none."""
    said = _run(git_dir, "config", "-z", "--get-regexp", r"^user\.(name|email)$", may_fail=True)
    pairs = (entry.partition("\n") for entry in said.decode(errors="replace").split("\0"))
    own = {key: re.sub(r"[<>\x00-\x1f]", "", value).strip() for key, _, value in pairs}
    name, address = own.get("user.name"), own.get("user.email")
    return f"{name} <{address}>" if name and address else ""


def _run(git_dir: Path, *arguments: str, given: bytes = b"", may_fail: bool = False) -> bytes:
    """Run one git command and return what it prints; b"" when it fails and may fail."""
    # Inherited GIT_ variables (from a hook, say) would point to another repository.
    environment = {key: value for key, value in os.environ.items() if not key.startswith("GIT_")}
    environment |= _ENVIRONMENT
    command = ["git", f"--git-dir={git_dir}", *_OFF, *arguments]
    try:
        done = subprocess.run(command, env=environment, input=given, capture_output=True, timeout=_PATIENCE_S)
    except (OSError, subprocess.TimeoutExpired):
        raise _GitError("git is not installed, or did not answer; install it, or leave out --git") from None
    if done.returncode and not may_fail:
        said = (done.stderr or done.stdout).decode(errors="replace").strip()
        raise _GitError(said.partition("\n")[0] or f"git ended with {done.returncode}")
    return b"" if done.returncode else done.stdout
