"""What scripts say, for the page to bring along in the language of its reader."""

from __future__ import annotations

import json

from django.conf import settings
from django.utils.translation import get_language, gettext
from django.utils.translation import gettext_noop as _

#: As they stand in the scripts, in ``words`` and ``countWords``. A count is one sentence for 1 and another for more.
SENTENCES = (
    _("start"),
    _("stop"),
    _("done"),
    _("note"),
    _("It could not be read. Press once more."),
    _("It is not there any more."),
    _("%(count)s press waits on this phone to be sent."),
    _("%(count)s presses wait on this phone to be sent."),
    _("%(count)s more press waits on this phone."),
    _("%(count)s more presses wait on this phone."),
    _("%(count)s lot at %(place)s"),
    _("%(count)s lots at %(place)s"),
    _("Some presses were not kept. Read why under “What is kept on this phone”."),
    _("Open the sheet"),
    _("Sent what waited on this phone."),
    _("Go on"),
    _("It is too large to be sent. Leave the photos out."),
    _("%(time)s on %(day)s"),
    _(", with %(count)s photo"),
    _(", with %(count)s photos"),
    _(", %(count)s counted"),
    _("Not kept: %(press)s. %(why)s"),
    _("%(press)s was not kept: %(why)s"),
    _("Waits for the network: %(press)s."),
    _("Is being sent: %(press)s."),
    _("Drop"),
    _("Drop: %(press)s"),
    _("Dropped: %(press)s."),
    _("If it arrived before, this list shows it once there is network."),
    _("It is on its way already, so it cannot be dropped now."),
    _("%(count)s press waits for the network on this phone."),
    _("%(count)s presses wait for the network on this phone."),
    _("Some presses were not kept. Read why at the task."),
    _("Kept: %(press)s."),
    _("Kept in your other organisation: %(press)s."),
    _("Sign in again to send what waits on this phone."),
    _("Say in a few words what the photo shows, for example: bent the wrong way."),
    _("There is no room left on this phone. Leave photos out, or press where there is reception."),
    _("Press what you are typing here first."),
    _(
        "“%(file)s” is in the HEIC format, which cannot be read here. Set the camera to JPEG (on an iPhone: Settings,"
        " Camera, Formats, Most Compatible) and take it again, or choose a screenshot of it."
    ),
    _("“%(file)s” cannot be read as a photo. Choose a JPEG, PNG or WebP picture."),
    _("Up to %(most)s photos go with one problem."),
    _("Making the photo ready …"),
    _("Photo %(at)s, not sent yet"),
    _("Leave out"),
    _("Leave photo %(at)s out"),
    _("%(count)s photo goes along when you press Start, Stop or Done."),
    _("%(count)s photos go along when you press Start, Stop or Done."),
)


def words_for_scripts() -> str:
    """As JSON, by the English sentence; "" in English."""
    said = {text: gettext(text) for text in SENTENCES} if get_language() != settings.LANGUAGE_CODE else {}
    return json.dumps(said, ensure_ascii=False) if said else ""
