"""Forks a child for each line read, which says its number and then all that ``work()`` of a module yields.

What is imported is imported once. Run by killing.py; a line: the module, and what ``work`` is called with.
"""

from __future__ import annotations

import os
import sys
from importlib import import_module

import django

django.setup()


def say(what: object) -> None:
    sys.stdout.write(f"{what}\n")
    sys.stdout.flush()


for line in sys.stdin:
    module, *given = line.split()
    work = import_module(module).work
    child = os.fork()
    if not child:
        say(os.getpid())
        for stored in work(*map(int, given)):
            say(stored)
    os.waitpid(child, 0)
    say("gone")
