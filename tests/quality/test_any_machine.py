"""Nothing in production code is there on one kind of machine alone: it may be tried on any that runs Python."""

from __future__ import annotations

import ast
from collections.abc import Iterator

import pytest

from tests.where import ROOT

#: Modules of Python that are not there on Windows (Python library reference, "Availability: Unix").
MODULES = {
    "crypt", "curses", "fcntl", "grp", "nis", "ossaudiodev", "posix", "pty", "pwd", "readline", "resource", "spwd",
    "syslog", "termios", "tty",
}  # fmt: skip
#: Names of os, signal and time that are not there, or do nothing, on Windows.
NAMES = {
    "os.fork", "os.forkpty", "os.getuid", "os.geteuid", "os.getgid", "os.getegid", "os.getpgid", "os.killpg",
    "os.mkfifo",
    "os.nice", "os.setsid", "os.setuid", "os.setgid", "os.chown", "os.uname", "os.getloadavg", "os.wait", "os.WNOHANG",
    "os.sched_getaffinity", "os.posix_spawn", "signal.SIGKILL", "signal.SIGHUP", "signal.SIGALRM", "signal.SIGUSR1",
    "signal.SIGUSR2", "signal.SIGCHLD", "signal.alarm", "signal.setitimer", "signal.pause", "time.tzset",
    "socket.AF_UNIX",
}  # fmt: skip
#: Folders that only some machines have.
PLACES = ("/tmp", "/dev/", "/proc/", "/etc/", "/usr/", "/var/")
#: Writes the files of a server with Debian, wherever it runs.
OF_A_SERVER = ROOT / "farmbuild" / "common" / "deployment" / "filling.py"
#: Without ``encoding`` a text is read as the machine likes.
TEXTS = {"read_text": 0, "write_text": 1}

SOURCES = [*sorted((ROOT / "farmbuild").rglob("*.py")), ROOT / "manage.py"]


def dotted(node: ast.AST) -> str:
    if isinstance(node, ast.Attribute):
        return f"{dotted(node.value)}.{node.attr}"
    return node.id if isinstance(node, ast.Name) else ""


def faults(source: str) -> Iterator[str]:
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Import(names=names):
                yield from (name.name for name in names if name.name.split(".")[0] in MODULES)
            case ast.ImportFrom(module=str(module), names=names):
                if module.split(".")[0] in MODULES:
                    yield module
                yield from (f"{module}.{name.name}" for name in names if f"{module}.{name.name}" in NAMES)
            case ast.Attribute():
                if dotted(node) in NAMES:
                    yield dotted(node)
            case ast.Constant(value=str(text)):
                if text.startswith(PLACES):
                    yield text
                if "%-" in text and any(f"%-{letter}" in text for letter in "dmjHIMSy"):
                    yield text
            case ast.Call(func=ast.Attribute(attr=attr), args=args, keywords=words) if attr in TEXTS:
                if len(args) <= TEXTS[attr] and not any(word.arg == "encoding" for word in words):
                    yield f"{attr} without encoding"
            case ast.Call(func=ast.Name(id="open"), keywords=words):
                if not any(word.arg in ("encoding", "mode") for word in words):
                    yield "open without encoding"


def test_no_source_needs_one_kind_of_machine() -> None:
    sources = [path for path in SOURCES if path != OF_A_SERVER]
    found = {str(path.relative_to(ROOT)): list(faults(path.read_text(encoding="utf-8"))) for path in sources}
    assert len(found) > 500
    assert {name: wrong for name, wrong in found.items() if wrong} == {}


@pytest.mark.parametrize(
    "source",
    [
        "import fcntl",
        "from resource import getrusage",
        "import os\nos.fork()",
        "from signal import SIGKILL",
        'folder = "/tmp/farmbuild"',
        'f"{day:%-d}"',
        "path.read_text()",
        'path.write_text("a")',
    ],
)
def test_what_it_looks_for_is_found(source: str) -> None:
    assert list(faults(source))
