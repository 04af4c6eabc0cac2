"""Houses drawn at random, as a person might type them; most can be built."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from hypothesis import strategies as st

from tests.outside.books import Project, is_imperial
from tests.outside.pulls import span_and_rise
from tests.outside.rows import House
from tests.outside.typed import INCH

Draw = Any


def written(draw: Draw, project: Project, least: float, most: float) -> str:
    """A length from ``least`` to ``most`` mm, on the tape, in one of the ways that people write it."""
    if not is_imperial(project):
        mm = draw(st.integers(round(least), max(round(least), round(most))))
        return draw(st.sampled_from([f"{mm} mm", f"{mm / 1000:.3f} m", f"{mm / 10:.1f} cm"]))
    low = round(least / float(INCH) * 16)
    parts = draw(st.integers(low, max(low, round(most / float(INCH) * 16))))
    inches, rest = divmod(parts, 16)
    part = f" {Fraction(rest, 16)}" if rest else ""
    feet_inches = f"{inches // 12}' {inches % 12}{part}\""
    return draw(st.sampled_from([feet_inches, f'{inches}{part}"', f'{parts / 16:.4f}"', f"{parts * 25.4 / 16:.4f} mm"]))


@st.composite
def houses(draw: Draw, project: Project) -> dict[str, str]:
    kinds = {kind: [c for c, m in project.materials.items() if m["kind"] == kind] for kind in KINDS}
    swaged = [c for c, m in project.materials.items() if m.get("swaged") == "yes"]
    code = draw(st.sampled_from(sorted(project.recipes)))
    recipe = project.recipes[code]
    shape = House({}, recipe, project.stuff, project.units)
    names = ("stick_length", "insertion", "radius", "first_mark", "pitch")
    free, _ = span_and_rise(shape.sticks, *(float(shape.of_recipe(name)) for name in names), float(shape.sleeve))

    def size(least: float, most: float) -> str:
        return written(draw, project, least, most)

    def of(kind: str) -> str:
        return draw(st.sampled_from(kinds[kind]))

    def count(least: int, most: int) -> str:
        return str(draw(st.integers(least, most)))

    house = {
        "site": "north",
        "need_date": "2027-04-05",
        "recipe": code,
        "post_span": size(free * 0.88, free),
        "length": size(2500, 26000),
        "spacing_wanted": size(700, 1800),
    }
    if draw(st.booleans()):
        house |= {"post_material": of("tube"), "post_length": size(900, 1500), "post_depth": size(300, 700)}
        house |= {"post_socket_depth": draw(st.sampled_from(["", size(0, 190)]))}
        house |= {"post_stop_material": draw(st.sampled_from(["", "bolt"]))}
        house |= {"hoop_over_post": draw(st.sampled_from(["", "", "yes"]))}
        house |= {"post_fastener_material": "post-pin", "fasteners_per_post": count(1, 4)}
    if draw(st.booleans()):
        house |= {
            "purlin_material": draw(st.sampled_from(swaged)),
            "purlin_stick_length": size(2800, 6500),
            "purlin_insertion": size(50, 150),
            "ridge_purlins": count(0, 1),
            "side_purlins": draw(st.sampled_from(["0", "2", "4", "6"])),
        }
        if draw(st.booleans()):
            plain = [c for c in kinds["tube"] if c not in swaged]
            house |= {
                "purlin_material": draw(st.sampled_from(plain)),
                "purlin_joint": draw(st.sampled_from(["inner sleeve", "outer sleeve"])),
                "purlin_insertion": "",
                "purlin_sleeve_material": of("tube"),
                "purlin_sleeve_length": size(150, 600),
                "purlin_first_stick": draw(st.sampled_from(["", size(650, 2700)])),
                "purlin_sleeve_screws": draw(st.sampled_from(["", "0", "4"])),
            }
    for height in ("hip", "base"):
        if draw(st.booleans()):
            house |= {
                f"{height}_board_material": of("lumber"),
                f"{height}_board_rows": count(1, 6),
                f"{height}_board_lengths": "; ".join(size(1900, 5200) for _ in range(draw(st.integers(1, 3)))),
            }
    walls = draw(st.integers(0, 2))
    if walls:
        house |= {"end_walls": str(walls), "end_frame_material": of(draw(st.sampled_from(["tube", "lumber"])))}
        house |= {"door_clearance": draw(st.sampled_from(["", "0", size(0, 15)]))}
        house |= {"end_stud_spacing": size(250, 900), "door_latch_material": "latch"}
        for end in ("front", "back")[:walls]:
            doors = draw(st.integers(0, 3))
            house |= {
                f"{end}_door_count": str(doors),
                f"{end}_door_width": size(300, 0.6 * free / (doors or 1)),
                f"{end}_door_height": size(900, 1900),
            }
    if draw(st.booleans()):
        house |= {"brace_material": of(draw(st.sampled_from(["tube", "lumber"])))}
        house |= {"brace_count": count(1, 9), "brace_length": size(900, 2700)}
    if draw(st.booleans()):
        house |= {"film_material": "film", "film_layers": count(1, 2)}
        house |= {"film_side_allowance": size(1250, 1400), "film_end_allowance": size(0, 900)}
        house |= {"side_closing": draw(st.sampled_from(["", "buried", "board", "curtain", "open"]))}
        house |= {"curtain_film_material": "narrow", "curtain_spare": size(100, 500)}
        house |= {"curtain_pipe_material": draw(st.sampled_from(swaged)), "curtain_pipe_stick_length": size(2800, 6500)}
        house |= {"curtain_pipe_insertion": size(50, 150)}
        house |= {"curtain_crank_material": "crank", "curtain_guide_material": "guide"}
        house |= {"end_film_allowance": draw(st.sampled_from(["", size(0, 400)]))}
    if draw(st.booleans()):
        house |= {"channel_material": "channel", "channel_runs": count(0, 5)}
        house |= {"channel_on_ends": draw(st.sampled_from(["yes", "no"]))}
    house |= {"screw_material": "screw", "screws_per_joint": count(0, 3)}
    house |= {"bolt_material": "bolt", "bolts_per_crossing": count(0, 3)}
    house |= {"anchor_material": "anchor", "anchor_count": count(0, 12)}
    codes = ("connector", "clamp", "hinge", "stop", "fan", "hose", "tape", "tie")
    names = ("purlin_connector", "brace_clamp", "hinge", "door_stop", "fan", "hose", "tape", "anchor_tie")
    house |= {f"{name}_material": draw(st.sampled_from(["", code])) for name, code in zip(names, codes, strict=True)}
    house |= {"end_screw_material": "wood", "end_screws_per_joint": count(1, 4), "hinges_per_door": count(1, 4)}
    house |= {"channel_screw_material": "screw", "channel_screw_spacing": size(150, 900)}
    house |= {"wire_material": draw(st.sampled_from(["", "wire"])), "joints_per_roll": draw(st.sampled_from(["", "7"]))}
    return house | {"door_skin_material": draw(st.sampled_from(["", "film", "narrow", "stop"]))}


KINDS = ("tube", "lumber", "film")
