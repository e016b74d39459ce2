"""Build notebooks that mean harm: every trick is one function, and test_tricks.py plays them all.

A trick changes the folder of a sound notebook, which has an index and is a git repository. What it wants to
run leaves a mark; what it wants read or written lies outside the notebook.
"""

import json
import os
import pickle
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from search.index.integrity import FORMAT, MANIFEST, digest_of


@dataclass(frozen=True, kw_only=True)
class Target:
    """Say what a trick works on.

    root: the notebook's folder. mark: a file that is there once a program of the trick's has run.
    outside: a folder beside the notebook that nobody may read or write through it.
    """

    root: Path
    mark: Path
    outside: Path

    @property
    def index(self) -> Path:
        """Return the folder of the index."""
        return self.root / ".benchlore/index"

    def program(self, name: str = "program") -> Path:
        """Put a program into the notebook that leaves the mark."""
        path = self.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.unlink(missing_ok=True)
        path.write_text(f'#!/bin/sh\necho "$0 $*" >> "{self.mark}"\nexec cat\n', encoding="utf-8")
        path.chmod(0o755)
        return path


Plant = Callable[[Target], None]


@dataclass(frozen=True, kw_only=True)
class Trick:
    """Hold one trick. told: what `check` says of it, "" for nothing."""

    plant: Plant
    told: str


TRICKS: dict[str, Trick] = {}


def trick(told: str = "") -> Callable[[Plant], Plant]:
    """Add a function to the tricks that are played."""

    def add(plant: Plant) -> Plant:
        TRICKS[plant.__name__] = Trick(plant=plant, told=told)
        return plant

    return add


# Every hook that git 2.39 knows and a local repository can run (githooks(5)).
HOOKS = (
    "applypatch-msg", "commit-msg", "fsmonitor-watchman", "post-applypatch", "post-checkout", "post-commit",
    "post-index-change", "post-merge", "post-rewrite", "pre-applypatch", "pre-auto-gc", "pre-commit",
    "pre-merge-commit", "prepare-commit-msg", "reference-transaction",
)  # fmt: skip
# Settings that name a program (git-config(1)).
PROGRAMS = (
    "core.fsmonitor", "core.editor", "core.pager", "core.askPass", "core.sshCommand", "core.gitProxy",
    "core.alternateRefsCommand", "sequence.editor", "pager.config", "pager.ls-tree", "credential.helper",
    "diff.external", "diff.all.textconv", "diff.all.command", "merge.all.driver", "filter.all.clean",
    "filter.all.smudge", "filter.all.process", "gpg.program", "gpg.ssh.program", "gpg.x509.program",
    "interactive.diffFilter", "remote.origin.uploadpack", "remote.origin.vcs", "uploadpack.packObjectsHook",
    "alias.update-index", "alias.fast-import", "alias.ls-tree", "trace2.eventTarget",
)  # fmt: skip


def git_settings(root: Path, *settings: tuple[str, str]) -> None:
    """Add settings to a repository's own file, as whoever packed it could."""
    with (root / ".git/config").open("a", encoding="utf-8") as config:
        for name, value in settings:
            section, _, key = name.rpartition(".")
            head, _, rest = section.partition(".")
            config.write(f'[{head} "{rest}"]\n' if rest else f"[{head}]\n")
            config.write(f"\t{key} = {value}\n")


@trick()
def git_settings_name_programs(target: Target) -> None:
    program = str(target.program())
    (target.root / ".gitattributes").write_text("* filter=all diff=all merge=all\n", encoding="utf-8")
    git_settings(target.root, *((name, program) for name in PROGRAMS), ("commit.gpgSign", "true"))


@trick()
def git_hooks_in_the_usual_place(target: Target) -> None:
    for hook in HOOKS:
        target.program(f".git/hooks/{hook}")


@trick()
def git_hooks_in_another_place(target: Target) -> None:
    for hook in HOOKS:
        target.program(f"families/hooks/{hook}")
    git_settings(target.root, ("core.hooksPath", str(target.root / "families/hooks")))


@trick()
def git_fetches_what_is_missing(target: Target) -> None:
    """Let objects be missing, and promise that a program brings them (partial clone)."""
    git_settings(
        target.root,
        ("core.repositoryFormatVersion", "1"), ("extensions.partialClone", "origin"),
        ("remote.origin.promisor", "true"), ("remote.origin.url", f"ext::{target.program()}"),
    )  # fmt: skip
    for path in (target.root / ".git/objects").glob("??/*"):
        path.unlink()


@trick()
def git_folder_is_within_the_notes(target: Target) -> None:
    for hook in HOOKS:
        target.program(f".git/hooks/{hook}")
    (target.root / ".git").rename(target.root / "families/git")
    (target.root / ".git").write_text("gitdir: families/git\n", encoding="utf-8")


@trick()
def git_log_is_a_link(target: Target) -> None:
    """Have a line with words of the notes appended to a file of the user's."""
    log = target.root / ".git/logs/HEAD"
    log.parent.mkdir(exist_ok=True)
    log.unlink(missing_ok=True)
    log.symlink_to(target.outside / "secret.md")


def manifest(target: Target, content: bytes) -> None:
    """Put a manifest with a right digest in place of the index's own."""
    (target.index / MANIFEST).write_bytes(digest_of(content).encode() + b"\n" + content)


def change_index(target: Target, change: Callable[[str, bytes], bytes]) -> None:
    """Change the files of the index, with digests to match, as somebody could who means harm."""
    content = json.loads((target.index / MANIFEST).read_bytes().partition(b"\n")[2])
    for name in content["files"]:
        data = change(name, (target.index / name).read_bytes())
        (target.index / name).write_bytes(data)
        content["files"][name] = digest_of(data)
    manifest(target, json.dumps(content).encode())


@trick()
def manifest_says_nothing(target: Target) -> None:
    manifest(target, b'{"facts":{},"files":{}}')


@trick()
def manifest_names_no_files(target: Target) -> None:
    manifest(target, json.dumps({"format": FORMAT, "facts": {}, "files": {}}).encode())


@trick()
def manifest_is_of_other_types(target: Target) -> None:
    manifest(target, json.dumps({"format": FORMAT, "facts": [1], "files": {"a": 1}}).encode())


@trick()
def manifest_leads_elsewhere(target: Target) -> None:
    digest = digest_of((target.outside / "secret.md").read_bytes())
    files = {str(target.outside / "secret.md"): digest, "../../outside/secret.md": digest}
    manifest(target, json.dumps({"format": FORMAT, "facts": {"generation": 1}, "files": files}).encode())


@trick()
def manifest_is_not_text(target: Target) -> None:
    manifest(target, b"\xff\xfe\x00")


@trick()
def manifest_is_all_brackets(target: Target) -> None:
    manifest(target, b"[" * 100_000)


@trick()
def index_files_are_noise(target: Target) -> None:
    change_index(target, lambda name, data: bytes(range(256)) * 20)


@trick()
def index_files_are_cut(target: Target) -> None:
    change_index(target, lambda name, data: data if name.endswith(".toc") else data[: len(data) // 2])


@trick()
def postings_are_noise(target: Target) -> None:
    """Leave every place in the postings where it was, and change all that stands there."""
    change_index(
        target,
        lambda name, data: data[:4] + b"\x07" * (len(data) - 4) if name.endswith(".pst") else data,
    )


@trick()
def rows_are_of_other_causes(target: Target) -> None:
    """Number causes, makes and words far beyond their names."""

    def change(name: str, data: bytes) -> bytes:
        place = data.index(b"\n") + 1 if name.endswith(".rows") else len(data)
        return data[:place] + b"\x7f" * (len(data) - place)

    change_index(target, change)


@trick()
def stored_notes_are_noise(target: Target) -> None:
    """Leave the columns as they are, so that the trouble is met only when a case is shown."""
    change_index(target, lambda name, data: data.replace(zlib.compress(b"", 1)[:2], b"\0\0"))


class Calls:
    """Become a call of a function when it is unpickled."""

    def __init__(self, mark: Path) -> None:
        """Take the folder that the call makes."""
        self.mark = mark

    def __reduce__(self) -> tuple[Callable[..., object], tuple[object, ...]]:
        """Return the call."""
        return os.mkdir, (str(self.mark),)


@trick()
def index_runs_a_function(target: Target) -> None:
    harm = pickle.dumps(Calls(target.mark))
    # The list of segments is the last thing in a table of contents.
    change_index(
        target, lambda name, data: data[: data.rindex(b"\x80")] + harm if name.endswith(".toc") else data
    )


@trick()
def model_claims_more_numbers_than_there_are(target: Target) -> None:
    path = target.root / ".benchlore/causes.model"
    _, head, _ = path.read_bytes().split(b"\n", 2)
    facts = json.loads(head)
    facts["source"][-1] = 10**12  # columns
    data = json.dumps(facts).encode() + b"\n" + b"\0" * 1000
    path.write_bytes(digest_of(data).encode() + b"\n" + data)


@trick()
def model_says_nothing(target: Target) -> None:
    (target.root / ".benchlore/causes.model").write_bytes(digest_of(b"{}\n").encode() + b"\n{}\n")


def case_note(target: Target, number: str, head: str = "", body: str = "") -> None:
    """Put a case of the washing machine's into the notebook, with more lines in its head."""
    good = (target.root / "cases/2026/20260620-c5pp.md").read_text(encoding="utf-8")
    text = good.replace("20260620-c5pp", number).replace("tech: JS\n---\n", f"tech: JS\n{head}---\n{body}\n")
    (target.root / f"cases/2026/{number}.md").write_text(text, encoding="utf-8")


@trick(told="holds characters that cannot be shown")
def field_name_steers_the_terminal(target: Target) -> None:
    case_note(target, "20260621-0dd0", head='"\\e]0;mine\\a": x\n')


@trick()
def a_hundred_notes_are_slow_to_show(target: Target) -> None:
    for number in range(100):
        case_note(target, f"20260621-s{number:03d}", body="![" * 900)
    case_note(target, "20260621-s0w0", body="![" * 95_000)


@trick(told="terms.toml:1: file: larger than 500,000 bytes")
def terms_have_20000_groups_of_one_name(target: Target) -> None:
    group = '[[group]]\nconcept = "x"\nkind = "symptom"\nphrases = ["a{}"]\n'
    text = "".join(group.format(number) for number in range(20_000))
    (target.root / "terms.toml").write_text(text, encoding="utf-8")


@trick(told="terms.toml:1: file: more than 100 dots in one line")
def terms_have_a_key_of_20000_parts(target: Target) -> None:
    (target.root / "terms.toml").write_text("a." * 20_000 + "b = 1\n", encoding="utf-8")


@trick(told="terms.toml:1: file: cannot be read")
def terms_never_end(target: Target) -> None:
    (target.root / "terms.toml").symlink_to("/dev/zero")


@trick(told="shop.toml:1: file: cannot be read")
def settings_wait_for_a_pipe(target: Target) -> None:
    os.mkfifo(target.root / "shop.toml")


@trick(told="shop.toml:1: file: brackets nested too deeply")
def settings_are_all_brackets(target: Target) -> None:
    (target.root / "shop.toml").write_text("a = " + "[" * 50_000, encoding="utf-8")


@trick(told="shop.toml:1: file: brackets nested too deeply, or a number too long")
def settings_hold_an_endless_number(target: Target) -> None:
    (target.root / "shop.toml").write_text("labour_rate = 1" + "0" * 50_000, encoding="utf-8")


@trick(told="shop.toml:2: file: bytes that are not UTF-8")
def settings_are_not_text(target: Target) -> None:
    (target.root / "shop.toml").write_bytes(b"\n\xff\xfe")
