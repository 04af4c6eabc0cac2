"""Scale drawings of a batch: the hoop that is wanted with its marks, and a measured one over it."""

from __future__ import annotations

from math import pi

from django.utils.safestring import SafeString
from django.utils.translation import gettext

from farmbuild.common.drawing import Drawing
from farmbuild.common.lengths import length_pair_text, length_text
from farmbuild.common.reading import units_of
from farmbuild.hoops.batches.bridge import BentHoop, measured_hoop, wanted_bend
from farmbuild.hoops.batches.bridge import wanted_hoop as hoop_wanted
from farmbuild.hoops.batches.models import HoopBatch, TrialHoop
from farmbuild.hoops.recipes.drawings import HoopDrawing
from farmbuild.hoops.recipes.tape import tape_on_hoop
from farmbuild.hoops.recipes.words import sleeve_text


def wanted_hoop(batch: HoopBatch) -> SafeString:
    """The hoop standing free at the span wanted, with marks and joints."""
    draw = HoopDrawing(
        wanted_bend(batch),
        str(batch),
        units_of(batch.organisation),
        batch.recipe.lever_length,
        batch.recipe.tube.swaged,
        hoop_wanted(batch),
        sleeve_text(batch.recipe, units_of(batch.organisation)),
    )
    return draw.hoop()


def _points(hoop: BentHoop, middle: float) -> list[tuple[float, float]]:
    return [(middle + x, y) for x, y in hoop.outline()]


def tape(batch: HoopBatch) -> SafeString:
    """Where the trial hoop is measured, on the hoop that is wanted."""
    hoop, units = hoop_wanted(batch), units_of(batch.organisation)
    return tape_on_hoop(hoop.outline(), length_text(hoop.span, units), length_text(hoop.rise, units))


def trial_over_wanted(batch: HoopBatch, trial: TrialHoop) -> SafeString:
    """The hoop as measured, heavy, over the one wanted, thin, crowns and middles in line."""
    units = units_of(batch.organisation)
    wanted, real = measured_hoop(batch, trial.target_span), measured_hoop(batch, trial.free_span)
    wide, high = max(wanted.span, real.span), max(wanted.rise, float(trial.rise))
    words = gettext(
        "Measured: free span %(free_span)s, rise %(rise)s. Wanted: free span %(target_span)s, rise %(rise_2)s."
    ) % {
        "free_span": length_text(trial.free_span, units),
        "rise": length_text(trial.rise, units),
        "target_span": length_text(trial.target_span, units),
        "rise_2": length_text(wanted.rise, units),
    }
    title = gettext("Trial hoop %(attempt)s of %(batch)s over the hoop wanted") % {
        "attempt": trial.attempt,
        "batch": batch,
    }
    drawing = Drawing(wide, high, title, words, units=units)
    middle = wide / 2
    drawing.line(-drawing.mm(8), 0, wide + drawing.mm(8), 0, "thin")
    drawing.polyline(_points(wanted, middle), "thin")
    # Heights to the rise as measured, so that a crown too high or too flat shows.
    factor = float(trial.rise) / real.rise
    drawing.polyline([(x, y * factor) for x, y in _points(real, middle)])
    half = real.span / 2
    drawing.dimension(
        middle - half,
        0,
        middle + half,
        0,
        gettext("measured %(free_span)s") % {"free_span": length_pair_text(trial.free_span, units)},
        -drawing.step,
    )
    half = wanted.span / 2
    drawing.dimension(
        middle - half,
        0,
        middle + half,
        0,
        gettext("wanted %(target_span)s") % {"target_span": length_pair_text(trial.target_span, units)},
        -2.2 * drawing.step,
    )
    if real.half_angle <= pi / 2:
        drawing.line(middle, float(trial.rise), wide, float(trial.rise), "thin")
    drawing.dimension(
        wide,
        float(trial.rise),
        wide,
        0,
        gettext("rise %(rise)s") % {"rise": length_pair_text(trial.rise, units)},
        drawing.step,
    )
    return drawing.svg()
