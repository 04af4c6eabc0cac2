"""What the check of a schedule finds, said with the names of houses, crews and benders and with days and hours."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import datetime

from farmbuild.crew.models import Crew, Task
from farmbuild.crew.people.selectors import zone_of
from farmbuild.crew.schedule.problem import SLOT
from farmbuild.crew.steps.words import span
from farmbuild.hoops.models import Bender
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House

_REF = re.compile(r"\b(task|house|crew|bender)-(\d+)\b")
_AT = re.compile(r"(?:at )?\bslot (\d+)\b|(?<=before it may, )at (\d+)\b")
_LONG = re.compile(r"\b(\d+) slots\b")
#: The check's sentences, and what is said for each; what is not listed is said as it is, with names.
_PLAIN = (
    (re.compile(r"^(\S+) starts at slot (\d+), before it may, at (\d+)\.$"), r"\1 starts \2@ and may not before \3%."),
    (
        re.compile(r"^(\S+) starts or ends while something that it needs is not there\.$"),
        r"\1 starts or ends while somebody or something that it needs is not there.",
    ),
    (re.compile(r"^(\S+) has (\d+) slots of work and takes (\d+)\.$"), r"\1 has \2~ of work and takes \3~."),
    (re.compile(r"^(\S+) starts before (\S+) has ended and 0 slots have gone\.$"), r"\1 starts before \2 has ended."),
    (
        re.compile(r"^(\S+) starts before (\S+) has ended and (\d+) slots have gone\.$"),
        r"\1 starts before \2 has ended and \3~ have gone.",
    ),
    (re.compile(r"^(\S+) cannot be at (\S+) in time after (\S+)\.$"), r"\1 cannot be in time for \2 after \3."),
    (
        re.compile(r"^(bender-\d+) is asked for more than 1 at slot (\d+)\.$"),
        r"\1 is wanted for two tasks at once, \2@.",
    ),
    (
        re.compile(r"^(bender-\d+) is asked for more than 0 at slot (\d+)\.$"),
        r"\1 is wanted, and away, \2@.",
    ),
)


def refs_in(sentence: str, kind: str) -> list[int]:
    """Keys of the rows of a kind that a sentence of the check names, in order."""
    return [int(key) for found, key in _REF.findall(sentence) if found == kind]


class Names:
    """Names of everything that ``sentences`` tell of; a query for each kind of row, however many there are."""

    def __init__(self, organisation: Organisation, start: datetime, sentences: Iterable[str]) -> None:
        self.zone, self.start = zone_of(organisation=organisation), start
        text = "\n".join(sentences)
        self._names: dict[tuple[str, int], str] = {}
        for kind, model in (("house", House), ("crew", Crew), ("bender", Bender)):
            rows = model.objects.of(organisation).filter(pk__in=refs_in(text, kind))
            self._names |= {(kind, row.pk): row.name for row in rows.only("name")}
        for task in Task.objects.of(organisation).filter(pk__in=refs_in(text, "task")).select_related("house"):
            self._names["task", task.pk] = f"“{task.get_kind_display()}” of {task.house}"

    def when(self, slot: int) -> str:
        at = (self.start + slot * SLOT).astimezone(self.zone)
        return f"on {at:%A} {at.day} {at:%B} at {at:%H:%M}"

    def _moment(self, slot: int) -> str:
        """The day alone where it is its beginning."""
        at = (self.start + slot * SLOT).astimezone(self.zone)
        return f"{at:%A} {at.day} {at:%B}" + (f", {at:%H:%M}" if at.hour or at.minute else "")

    def by(self, moment: datetime) -> str:
        local = moment.astimezone(self.zone)
        return f"by {local:%A} {local.day} {local:%B} at {local:%H:%M}"

    def said_of(self, task: int, sentence: str) -> str:
        """What follows on the name of the task that the sentence begins with."""
        own = f"task-{task} "
        words = self.said(sentence)
        name = self._names.get(("task", task), "")
        return words.removeprefix(f"{name} ") if sentence.startswith(own) else words

    def said(self, sentence: str) -> str:
        for pattern, words in _PLAIN:
            if pattern.match(sentence):
                sentence = pattern.sub(words, sentence)
                break
        sentence = re.sub(r"(?<![-\d])(\d+)@", lambda found: self.when(int(found[1])), sentence)
        sentence = re.sub(r"(?<![-\d])(\d+)%", lambda found: self._moment(int(found[1])), sentence)
        sentence = re.sub(r"(?<![-\d])(\d+)~", lambda found: _span(int(found[1])), sentence)
        sentence = _AT.sub(lambda found: self.when(int(found[1] or found[2])), sentence)
        sentence = _LONG.sub(lambda found: _span(int(found[1])), sentence)
        sentence = _REF.sub(lambda found: self._names.get((found[1], int(found[2])), "A row since removed"), sentence)
        return sentence[:1].upper() + sentence[1:]


def _span(slots: int) -> str:
    return span(int(slots * SLOT.total_seconds() // 60))


def sentences_of(organisation: Organisation, start: datetime, faults: Sequence[str], most: int) -> list[str]:
    """The first of what the check found, and how many more there are."""
    shown = faults[:most]
    names = Names(organisation, start, shown)
    more = len(faults) - len(shown)
    return [names.said(fault) for fault in shown] + ([f"And {more:,} more."] if more > 0 else [])
