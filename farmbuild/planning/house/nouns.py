"""What is counted of a house, one and many, and what materials and joints are called: marked for pages in another
language; a test holds them to what is counted."""

from __future__ import annotations

from farmbuild.measure.speech import gettext_noop as _

NOUNS = (
    _("anchor"), _("anchors"), _("bay"), _("bays"), _("board row"), _("board rows"), _("bolt"), _("bolts"),
    _("brace"), _("braces"), _("crossing"), _("crossings"), _("door"), _("doors"), _("framed end wall"),
    _("framed end walls"), _("framed wall"), _("framed walls"), _("front door"), _("front doors"), _("back door"),
    _("back doors"), _("hinge"), _("hinges"), _("hoop"), _("hoops"), _("joint"), _("joints"), _("layer"), _("layers"),
    _("mark"), _("marks"), _("piece"), _("pieces"), _("pull"), _("pulls"), _("purlin"), _("purlins"), _("row"),
    _("rows"), _("run"), _("runs"), _("screw"), _("screws"), _("sheet"), _("sheets"), _("stick"), _("sticks"),
    _("whole stick"), _("whole sticks"), _("post"), _("posts"), _("ground posts"), _("purlin crossings"),
    _("ends of the house"), _("foot"), _("feet"), _("metre"), _("metres"), _("sleeve"),
    _("sleeves"), _("stud"), _("studs"), _("door post"), _("door posts"), _("short stud"), _("short studs"),
    _("material"), _("materials"),
)  # fmt: skip
#: As a sentence begins with it.
EVEN = (_("Side purlins"),)
KINDS = (_("tube"), _("lumber"), _("film"), _("channel"), _("fastener"), _("anchor"), _("hardware"))
JOINTS = (_("swage"), _("inner sleeve"), _("outer sleeve"), _("none"))
#: Where something is, in a sentence.
PLACES = (_("front"), _("back"), _("ridge"), _("side"), _("along the house"), _("over the end hoops"))
