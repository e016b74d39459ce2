"""Hold the project to its own layout: one-way imports, README commands, a wheel that carries everything."""

import ast
import json
import os
import re
import shlex
import subprocess
import sys
import zipfile
from graphlib import TopologicalSorter
from pathlib import Path

import pytest
from click.testing import CliRunner

from web.cli.main import main

ROOT = Path(__file__).resolve().parents[1]
CARRIED = (
    "kb/signs.toml", "kb/terms.toml", "kb/exchange/*.toml", "kb/demo/**/*.md", "kb/demo/*.toml",
    "search/**/*.toml", "web/templates/**/*.html", "web/static/*",
)  # fmt: skip
LONGEST_MODULE = 300  # lines
TOP_LEVEL = {
    ".ci", ".gitignore", "DEVELOPERS.md", "LICENSE", "README.md", "kb", "pyproject.toml", "search", "tests",
    "web",
}  # fmt: skip
MAY_IMPORT = {"kb": set(), "search": {"kb"}, "web": {"kb", "search"}}


def _imported(path: Path) -> set[str]:
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {name.name.split(".")[0] for name in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module.split(".")[0])
    return found


def test_top_level_holds_what_was_agreed() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert {line.split("/")[0] for line in listed.splitlines()} == TOP_LEVEL


@pytest.mark.parametrize("package", MAY_IMPORT)
def test_imports_run_one_way(package: str) -> None:
    modules = list((ROOT / package).rglob("*.py"))
    assert modules
    wrong = {
        f"{path.relative_to(ROOT)} imports {name}"
        for path in modules
        for name in _imported(path) & MAY_IMPORT.keys() - MAY_IMPORT[package] - {package}
    }
    assert not wrong


def _unit(module: str) -> str:
    """Return the package of a module, or the module itself where it lies at the top."""
    return ".".join(module.split(".")[:2])


def _unit_imports() -> dict[str, set[str]]:
    found: dict[str, set[str]] = {}
    for package in MAY_IMPORT:
        for path in (ROOT / package).rglob("*.py"):
            unit = _unit(".".join(path.relative_to(ROOT).with_suffix("").parts))
            targets = found.setdefault(unit, set())
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
                if isinstance(node, ast.ImportFrom) and node.module:
                    names = [node.module]
                    if node.module in MAY_IMPORT:
                        names = [f"{node.module}.{alias.name}" for alias in node.names]
                    targets |= {_unit(name) for name in names if name.split(".")[0] in MAY_IMPORT}
    return {unit: targets - {unit} for unit, targets in found.items()}


def test_imports_between_sub_packages_have_no_cycle() -> None:
    imports = _unit_imports()
    assert len(imports) > 20
    list(TopologicalSorter(imports).static_order())  # raises CycleError, which names the circle


@pytest.mark.parametrize("package", MAY_IMPORT)
def test_modules_keep_to_their_size(package: str) -> None:
    sizes = {
        path.relative_to(ROOT).as_posix(): len(path.read_text(encoding="utf-8").splitlines())
        for path in (ROOT / package).rglob("*.py")
    }
    assert sizes
    assert not {name: lines for name, lines in sizes.items() if lines > LONGEST_MODULE}


def _only_command(readme: str, section: str) -> str:
    text = readme.split(f"\n## {section}\n", 1)[1].split("\n## ", 1)[0]
    blocks = text.split("```")[1::2]
    assert len(blocks) == 1, f"## {section} must hold one fenced block"
    lines = blocks[0].strip("\n").splitlines()
    assert len(lines) == 1, f"## {section} must hold one command line"
    return lines[0]


def test_readme_gives_one_command_each_to_run_and_to_test() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    run, test = _only_command(readme, "Run"), _only_command(readme, "Test")
    assert "-m venv" in run
    assert "serve --demo" in run
    assert "-m venv" in test
    assert test.endswith("pytest")


def test_developers_page_names_only_what_is_there() -> None:
    page = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    paths = set(re.findall(r"`((?:kb|search|web|tests)/[\w./-]*)`", page))
    assert len(paths) > 40
    assert not {path for path in paths if not (ROOT / path).exists()}


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    copy = folder / "source"
    tracked = subprocess.run(
        ["git", "ls-files", "-co", "--exclude-standard", "-z"],
        cwd=ROOT, check=True, capture_output=True, text=True,
    ).stdout.split("\0")  # fmt: skip
    for name in filter(None, tracked):
        if (ROOT / name).is_file():
            (copy / name).parent.mkdir(parents=True, exist_ok=True)
            (copy / name).write_bytes((ROOT / name).read_bytes())
    subprocess.run(
        [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--no-build-isolation",
         "--disable-pip-version-check", "--wheel-dir", str(folder), str(copy)],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    (built,) = folder.glob("benchlore-*.whl")
    return built


def test_wheel_carries_terms_pages_and_the_whole_demo(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
    wanted = [
        path.relative_to(ROOT).as_posix()
        for pattern in CARRIED
        for path in ROOT.glob(pattern)
    ]  # fmt: skip
    assert len(wanted) > 150
    assert not set(wanted) - names


def test_wheel_installed_elsewhere_searches_the_demo(wheel: Path, tmp_path: Path) -> None:
    target = tmp_path / "installed"
    subprocess.run(
        [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-index",
         "--disable-pip-version-check", "--target", str(target), str(wheel)],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    program = (
        "import kb, web.cli.main, sys; sys.stderr.write(kb.__file__ + '\\n'); "
        "sys.argv[0] = 'benchlore'; web.cli.main.main()"
    )
    done = subprocess.run(
        [sys.executable, "-c", program,
         "search", "--demo", "--json", "dead, three flashes", "--family", "HV-L2"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(target), "XDG_CACHE_HOME": str(tmp_path / "cache")},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert str(target) in done.stderr
    answer = json.loads(done.stdout)
    assert answer["cases"][0]["chassis_family"] == "HV-L2"
    assert answer["causes"]


def _words_and_figures(text: str) -> tuple[list[str], list[float]]:
    """Part a terminal answer into its words, without bars, and the numbers that stand alone."""
    words = re.sub(r"[█·]+", " ", text).split()
    figure = re.compile(r"\d+(?:\.\d+)?")
    figures = [float(word) for word in words if figure.fullmatch(word)]
    return ["#" if figure.fullmatch(word) else word for word in words], figures


def test_readme_shows_what_the_program_says(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = re.search(r"```console\n\$ benchlore (search [^\n]+)\n(.*?)```", readme, re.DOTALL)
    assert shown, "README.md shows no answer"
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    result = CliRunner().invoke(main, shlex.split(shown[1]))
    assert result.exit_code == 0
    (words, figures), (shown_words, shown_figures) = map(_words_and_figures, (result.output, shown[2]))
    assert words == shown_words
    assert len(figures) > 20
    # Another processor rounds the last digit otherwise: a per cent or a minute, no more.
    assert figures == pytest.approx(shown_figures, abs=1.0)
