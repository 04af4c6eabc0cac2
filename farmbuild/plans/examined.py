"""What the command ``doctor`` looks at of plans: a sample of them is to the letter what was stored."""

from __future__ import annotations

from typing import Any

from farmbuild.common.doctor.examining import Found
from farmbuild.measure import count_noun
from farmbuild.plans import bridge
from farmbuild.plans.models import Plan

#: The newest, and as many again spread over all the others.
SAMPLE = 10


def examine_plans(sender: Any, **more: Any) -> list[Found]:
    keys = [*Plan.objects.filter(state=Plan.State.READY).order_by("-pk").values_list("pk", flat=True)]
    older = keys[SAMPLE:]
    wanted = {*keys[:SAMPLE], *older[:: max(1, len(older) // SAMPLE)][:SAMPLE]}
    columns = ("organisation__name", "number", "inputs", "inputs_digest", "result", "result_digest")
    faults = [
        f"Plan {number} of {whose} is not what was stored: its {which} have another digest."
        for whose, number, inputs, of_inputs, result, of_result in Plan.objects.filter(pk__in=wanted)
        .order_by("pk")
        .values_list(*columns)
        .iterator(chunk_size=1)
        for which, packed, digest in (("inputs", inputs, of_inputs), ("results", result, of_result))
        if bridge.digest_of(packed) != digest
    ]
    return [Found("Plans", f"{count_noun(len(wanted), 'plan')} looked at, of {len(keys)}", tuple(faults))]
