"""The rules of the code, each checked by the tool made for it."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.where import ROOT

BIN = Path(sys.executable).parent


def run(*command: str, **environment: str) -> None:
    # Left by page tests of the same run.
    kept = {name: value for name, value in os.environ.items() if name != "DJANGO_ALLOW_ASYNC_UNSAFE"}
    done = subprocess.run(
        command,
        cwd=ROOT,
        env=kept | environment,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize(
    "command",
    [
        ("ruff", "check", "."),
        ("ruff", "format", "--check", "."),
        ("mypy",),
        ("lint-imports",),
    ],
    ids=lambda command: " ".join(command),
)
def test_tool_finds_nothing(command: tuple[str, ...]) -> None:
    run(str(BIN / command[0]), *command[1:])


def test_models_and_migrations_agree() -> None:
    run(sys.executable, "manage.py", "makemigrations", "--check", "--dry-run")


def test_ready_to_be_deployed(tmp_path: Path) -> None:
    run(
        sys.executable,
        "manage.py",
        "check",
        "--deploy",
        "--fail-level",
        "WARNING",
        FARMBUILD_HOSTS="houses.example.org",
        FARMBUILD_BEHIND_PROXY="1",
        FARMBUILD_DATA=str(tmp_path),
    )


def test_locks_hold_every_dependency_of_the_project() -> None:
    """Each name in pyproject.toml stands in the lock with a hash."""
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    for lock, wanted in (
        ("run.txt", project["project"]["dependencies"]),
        ("dev.txt", project["project"]["dependencies"] + project["dependency-groups"]["dev"]),
        ("postgres.txt", project["project"]["dependencies"] + project["project"]["optional-dependencies"]["postgres"]),
        ("supply.txt", project["dependency-groups"]["supply"]),
    ):
        locked = (ROOT / ".locks" / lock).read_text().lower()
        for requirement in wanted:
            name = requirement.split("[")[0].split(">")[0].split("<")[0].strip().lower()
            assert f"\n{name}==" in f"\n{locked}" or f"\n{name}[" in f"\n{locked}", (lock, name)
        assert locked.count("--hash=sha256:") >= locked.count("==")


def test_no_template_line_is_longer_than_200_characters() -> None:
    long = [
        f"{path.relative_to(ROOT)}:{number}"
        for path in sorted((ROOT / "templates").rglob("*"))
        if path.is_file()
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if len(line) > 200
    ]
    assert long == []


ARITHMETIC = (ast.Add, ast.Sub, ast.Mult, ast.Div, ast.FloorDiv, ast.Pow)
SUMS = {"sum", "min", "max", "abs", "round"}
QUERIES = {
    "aggregate",
    "annotate",
    "exclude",
    "filter",
    "order_by",
    "prefetch_related",
    "select_related",
    "values_list",
}


def _is_fault(node: ast.AST) -> bool:
    if isinstance(node, (ast.BinOp, ast.AugAssign)):
        return isinstance(node.op, ARITHMETIC)
    if isinstance(node, ast.Call):
        return getattr(node.func, "id", "") in SUMS or getattr(node.func, "attr", "") in QUERIES
    return isinstance(node, ast.Attribute) and node.attr == "objects"


def _faults_of_a_view(code: str) -> list[tuple[int, str]]:
    return sorted((node.lineno, ast.unparse(node)) for node in ast.walk(ast.parse(code)) if _is_fault(node))


def test_views_hold_no_arithmetic_and_build_no_queries() -> None:
    """Sums stand in selectors, services and models; what a view reads has a name there."""
    views = [path for path in sorted((ROOT / "farmbuild").rglob("*.py")) if "views" in (path.stem, path.parent.name)]
    assert len(views) > 20
    faults = [
        f"{path.relative_to(ROOT)}:{line} {words}"
        for path in views
        for line, words in _faults_of_a_view(path.read_text(encoding="utf-8"))
    ]
    assert faults == []


def test_arithmetic_and_queries_would_be_found() -> None:
    code = "a = b - 1\nc += 2\nd = max(a, c)\ne = rows.filter(pk=1)\nf = House.objects\ng = {} | {}\nh = f'{a}' % b"
    assert [line for line, _ in _faults_of_a_view(code)] == [1, 2, 3, 4, 5]


#: Files in which a test may stand still, how often, and why; everywhere else it waits for the thing (``until`` of
#: tests/waiting.py, ``comes`` and ``until`` of tests/browser/test_day_list.py).
STANDS_STILL = {
    "tests/waiting.py": (1, "asks again and again, a moment between"),
    "tests/browser/test_day_list.py": (1, "asks a page again and again; its browser goes on in the moment between"),
    "tests/browser/engines/driver.py": (1, "asks a browser again and again, a moment between"),
    "tests/load/users.py": (1, "people think between two pages"),
    "tests/load/__main__.py": (1, "asks servers again and again, and is no test"),
    "tests/demo/test_interrupted.py": (1, "is stopped at one moment of its work or another"),
    "tests/deployment/test_workers.py": (2, "workers are killed at moments drawn by chance; looks, a moment between"),
    "tests/deployment/at_pages.py": (2, "people look at pages again and again, a moment between"),
    "tests/stock/killing.py": (1, "a process is killed at a moment drawn by chance"),
    "tests/stock/importing_long_worker.py": (1, "a worker that looks for work, a moment between"),
    "tests/workbooks/test_writing.py": (1, "the clock of zip files goes by two seconds"),
    "tests/api/test_changes.py": (2, "writers that take as long as chance has it"),
}
_STANDING = ("sleep", "wait_for_timeout")


def standing_still(code: str) -> list[int]:
    """Lines that call what lets time pass."""
    calls = (node for node in ast.walk(ast.parse(code)) if isinstance(node, ast.Call))
    named = ((node.lineno, getattr(node.func, "attr", getattr(node.func, "id", ""))) for node in calls)
    return [line for line, name in named if name in _STANDING]


def test_a_test_waits_for_the_thing_and_not_for_a_time() -> None:
    found = {
        path.relative_to(ROOT).as_posix(): len(lines)
        for path in sorted((ROOT / "tests").rglob("*.py"))
        if (lines := standing_still(path.read_text(encoding="utf-8")))
    }
    assert found == {name: times for name, (times, _) in STANDS_STILL.items()}


def test_standing_still_would_be_found() -> None:
    assert standing_still("time.sleep(1)\nsleep(2)\npage.wait_for_timeout(3)\nuntil(done)") == [1, 2, 3]
