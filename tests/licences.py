"""Under which licence each package stands that the program runs with, as the package itself says it.

`python -m tests.licences` writes the list anew into .locks/licences.txt.
"""

import re
from importlib.metadata import distribution
from pathlib import Path

LOCKS = Path(__file__).resolve().parent.parent / ".locks"
LIST = LOCKS / "licences.txt"

# All let anybody use the program for any purpose; of the LGPL ones nothing is changed.
MAY_STAND = {
    "0BSD",
    "Apache-2.0",
    "BSD",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "CC0-1.0",
    "LGPL-3.0-only",
    "MIT",
    "MIT-CMU",
    "PSF-2.0",
    "ZPL-2.1",
    "Zlib",
}
# Names that are no identifiers of SPDX, as some packages still write them.
AS_SPDX = {
    "License :: OSI Approved :: Apache Software License": "Apache-2.0",
    "License :: OSI Approved :: BSD License": "BSD",
    "License :: OSI Approved :: MIT License": "MIT",
    "License :: OSI Approved :: Zope Public License": "ZPL-2.1",
    "3-Clause BSD License": "BSD-3-Clause",
}


def locked(name: str) -> set[tuple[str, str]]:
    """Name and version of each package in one of the files in .locks; some have two versions, by that of Python."""
    return set(re.findall(r"^([\w.-]+)(?:\[[\w,]+\])?==([^\s;]+)", (LOCKS / name).read_text(), re.MULTILINE))


def licence_of(package: str) -> str:
    """As its metadata say: the expression (PEP 639), else the field where that is a name, else the classifiers."""
    said = distribution(package).metadata
    if said["License-Expression"]:
        return str(said["License-Expression"])
    classifiers = [name for name in said.get_all("Classifier", []) if name.startswith("License :: OSI Approved ::")]
    names = classifiers or [str(said["License"] or "not said").splitlines()[0]]
    return " AND ".join(AS_SPDX.get(name, name) for name in names)


def listed() -> str:
    return "".join(
        f"{package}: {licence_of(package)}\n" for package in sorted({name for name, _ in locked("postgres.txt")})
    )


if __name__ == "__main__":
    LIST.write_text(listed(), encoding="utf-8")
