"""Write the files that a server needs beside the program."""

from __future__ import annotations

from argparse import ArgumentParser
from dataclasses import fields
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from farmbuild.common.deployment.filling import Place, filled_files


class Command(BaseCommand):
    help = "Write units for systemd, a site for nginx and a file of settings into a folder, filled in for this server."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path)
        parser.add_argument("--host", required=True, help="the name that the site answers to, such as farm.example.org")
        for field in fields(Place):
            if field.name != "host":
                kind = int if isinstance(field.default, int) else str
                parser.add_argument(f"--{field.name}", type=kind, default=field.default, help=str(field.default or ""))

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            place = Place(**{field.name: options[field.name] for field in fields(Place)})
        except ValueError as error:
            raise CommandError(str(error)) from error
        folder: Path = options["folder"]
        there = [name for name in filled_files(place) if (folder / name).exists()]
        if there:
            raise CommandError(f"{folder / there[0]} is there already. Move it away, or give another folder.")
        try:
            folder.mkdir(parents=True, exist_ok=True)
            for name, text in filled_files(place).items():
                (folder / name).write_text(text, encoding="utf-8")
                self.stdout.write(f"{folder / name}")
        except OSError as error:
            raise CommandError(f"{folder} cannot be written ({error.strerror}).") from error
