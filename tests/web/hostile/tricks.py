"""Build notebooks that mean harm: every trick is one function, and test_tricks.py plays them all.

A trick changes the folder of a sound notebook, which has an index and is a git repository. What it wants to
run leaves a mark; what it wants read or written lies outside the notebook.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, kw_only=True)
class Target:
    """Say what a trick works on.

    root: the notebook's folder. mark: a file that is there once a program of the trick's has run.
    outside: a folder beside the notebook that nobody may read or write through it.
    """

    root: Path
    mark: Path
    outside: Path

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
