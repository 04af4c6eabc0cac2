"""A form that asks before it takes what is far from usual: pressed once it asks, ticked and pressed again it saves."""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import sha256
from typing import Any

from django import forms


class Checkbox(forms.CheckboxInput):
    """Sends ``said``; never ticked beforehand."""

    def __init__(self, said: str) -> None:
        super().__init__(check_test=lambda value: False)
        self.said = said

    def format_value(self, value: Any) -> str:
        return self.said


class AsksOnce:
    """Before a form. A tick holds for the very questions that it stood beside: other figures are asked about anew."""

    def ask(self, questions: Mapping[str, str], *, at: Mapping[str, tuple[forms.BaseForm, str]] | None = None) -> bool:
        """Refuse with each question at its field until it is ticked; gives whether it did.

        ``at``: form and field of a question that stands in a form of a set beside this one.
        """
        asked = {name: question for name, question in questions.items() if question}
        said = sha256("\n".join(f"{name} {question}" for name, question in sorted(asked.items())).encode()).hexdigest()
        if not asked:
            return False
        if self.data.get(self.add_prefix("sure")) == said:
            # Stays said where something else keeps the form from being saved.
            self.fields["sure"] = forms.CharField(required=False, widget=forms.HiddenInput)
            return False
        self.fields["sure"] = forms.BooleanField(label="Yes, save it as typed", required=False, widget=Checkbox(said))
        for name, question in asked.items():
            form, field = (at or {}).get(name, (self, name))
            form.add_error(field, question)
        return True
