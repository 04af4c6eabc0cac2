"""A drawing set as a DXF file: every view at full size in mm in model space, and every sheet as a layout with windows
on to them.

The format is Autodesk's DXF reference of 2010; what a bare text may not say plainly (``%%``, ``^``, ``\\U+``) is
written as that reference has it.
"""

from __future__ import annotations

from io import StringIO

import ezdxf
from ezdxf import units as dxf_units
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.layouts import BaseLayout, Paperspace

from farmbuild.drawings.drawing_set import DrawingSet
from farmbuild.drawings.pen import BREADTH, LETTER, Bar, Layer, Line, Round, Size, Stroke, Thing, Words
from farmbuild.drawings.sheets import Placed, shifted

#: Windows on to model space; their edges are not plotted.
WINDOWS = "windows"
_TYPES = {Line.HIDDEN: "DASHED", Line.CENTRE: "CENTER"}
_STYLE = "farm"
#: mm of paper between the views in model space, at the scale of each.
_APART = 20.0
_ALIGN = {
    "start": TextEntityAlignment.LEFT,
    "middle": TextEntityAlignment.CENTER,
    "end": TextEntityAlignment.RIGHT,
}


def set_dxf(found: DrawingSet) -> bytes:
    document = _new(found)
    for (number, sheet), places in zip(enumerate(found.sheets, 1), places_in_model(found), strict=True):
        name = f"{number} {sheet.title}"
        layout = document.layouts.new(name)
        paper = found.paper
        layout.page_setup(size=(paper.wide, paper.high), margins=(0, 0, 0, 0), units="mm", name=paper.name.value)
        for thing in sheet.paper:
            _draw(layout, thing, 1)
        for placed, (x, y) in zip(sheet.views, places, strict=True):
            for thing in _moved(placed, x, y):
                _draw(document.modelspace(), thing, placed.scale)
            _window(layout, placed, x, y)
    # A file has one empty layout from the start.
    document.layouts.delete("Layout1")
    written = StringIO()
    document.write(written)
    return document.encode(written.getvalue())


def places_in_model(found: DrawingSet) -> list[list[tuple[float, float]]]:
    """Where 0, 0 of each view of each sheet lies in model space, mm: one under another, the first at 0, 0."""
    places: list[list[tuple[float, float]]] = []
    low: float | None = None
    for sheet in found.sheets:
        row = []
        for placed in sheet.views:
            _, y, _, high = placed.box
            over = (y + high - placed.y) * placed.scale
            at = 0.0 if low is None else low - _APART * placed.scale - over
            row.append((0.0, at))
            low = at - (placed.y - y) * placed.scale
        places.append(row)
    return places


def _moved(placed: Placed, x: float, y: float) -> list[Thing]:
    return shifted(placed.things, lambda at_x, at_y: (at_x + x, at_y + y))


def _new(found: DrawingSet) -> Drawing:
    document = ezdxf.new("R2010", setup=["linetypes"], units=dxf_units.MM)
    document.header["$LTSCALE"] = 10.0
    document.styles.add(_STYLE, font="arial.ttf")
    for layer in (*Layer, WINDOWS):
        document.layers.add(str(layer), plot=layer != WINDOWS)
    document.dimstyles.new(
        _STYLE,
        dxfattribs={
            "dimtxsty": _STYLE,
            "dimtxt": LETTER,
            "dimtsz": 1.0,
            "dimexe": 1.5,
            "dimexo": 1.0,
            "dimgap": 1.0,
            "dimtad": 1,
            "dimtih": 0,
            "dimtoh": 0,
        },
    )
    return document


def _window(layout: Paperspace, placed: Placed, x: float, y: float) -> None:
    left, low, wide, high = placed.box
    centre = (left + wide / 2, low + high / 2)
    seen = (x + (centre[0] - placed.x) * placed.scale, y + (centre[1] - placed.y) * placed.scale)
    layout.add_viewport(
        center=centre,
        size=(wide, high),
        view_center_point=seen,
        view_height=high * placed.scale,
        dxfattribs={"layer": WINDOWS},
    )


def _draw(layout: BaseLayout, thing: Thing, scale: float) -> None:
    match thing:
        case Bar():
            _stroke(layout, thing.outline(), scale)
            if thing.centred:
                centre = thing.centre(Line.CENTRE)
                _stroke(layout, Stroke(Layer.CENTRE, centre.points, line=Line.CENTRE), scale)
        case Stroke():
            _stroke(layout, thing, scale)
        case Round():
            layout.add_circle((thing.x, thing.y), thing.radius, dxfattribs=_look(thing.layer, thing.line, scale))
        case Words():
            text = layout.add_text(
                plain(thing.text),
                height=thing.height * scale,
                rotation=90 if thing.turned else 0,
                dxfattribs={"layer": str(thing.layer), "style": _STYLE},
            )
            text.set_placement((thing.x, thing.y), align=_ALIGN[thing.anchor])
        case Size():
            made = layout.add_aligned_dim(
                (thing.x1, thing.y1),
                (thing.x2, thing.y2),
                distance=thing.off * scale,
                text=thing.text,
                dimstyle=_STYLE,
                override={"dimscale": scale},
                dxfattribs={"layer": str(Layer.DIMENSIONS)},
            )
            made.render()


def _stroke(layout: BaseLayout, thing: Stroke, scale: float) -> None:
    layout.add_lwpolyline(
        thing.points, format="xyb", close=thing.closed, dxfattribs=_look(thing.layer, thing.line, scale)
    )


def _look(layer: Layer, line: Line, scale: float) -> dict[str, object]:
    look: dict[str, object] = {"layer": str(layer), "lineweight": round(BREADTH[line] * 100)}
    if line in _TYPES:
        look |= {"linetype": _TYPES[line], "ltscale": scale / 10}
    return look


def plain(text: str) -> str:
    """So that a reader of the file shows it as it is typed."""
    return text.replace("\\U+", "\\U+005CU+").replace("\\M+", "\\U+005CM+").replace("^", "^ ").replace("%%", "%%%%%%")
