"""Gathers the words of pages, with those that the floors without Django mark by ``sentence``."""

from django.core.management.commands import makemessages


class Command(makemessages.Command):
    xgettext_options = [*makemessages.Command.xgettext_options, "--keyword=sentence"]
