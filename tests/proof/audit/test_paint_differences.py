# SPDX-License-Identifier: GPL-3.0-or-later
"""What is other in a level's material is said in words of the interface, for every fact that a material can have."""

from dataclasses import replace

import pytest

from proof.readings import reading_of
from proof.test_fault_causes import PLAN, told
from underglass.proof.audit.paint_differences import differences
from underglass.proof.proof_facts import BLOCK, Fault
from underglass.reading.paint_facts import looks
from underglass.reading.scene_reading import Change

IMAGE = "0 image n2 0123abcd STRAIGHT FILE saved sRGB /reeds.png"
BUILT = (
    "0 node n0 ShaderNodeMixShader Mix Shader",
    "0 node n1 ShaderNodeEmission Emission",
    "0 value n1 Emission › Strength = 1",
    "0 node n2 ShaderNodeTexImage Image Texture",
    "0 choice n2 Image Texture › Extension = CLIP",
    "0 link n2.Color > n1 Emission › Color",
    IMAGE,
)


def with_line(line: str, instead_of: str = "") -> tuple[str, ...]:
    return (*(one for one in BUILT if one != instead_of), line)


@pytest.mark.parametrize(
    ("here", "said"),
    [
        (
            with_line("0 moves Emission Strength = is driven by 1+frame*0.1"),
            "Emission Strength is driven by 1+frame*0.1",
        ),
        (with_line("0 moves Gamma Gamma = is keyed"), "Gamma Gamma is keyed"),
        (
            (*with_line("0 moves Gamma Gamma in my glow = is keyed"), "0 moves Emission Strength = is keyed"),
            "Emission Strength and Gamma Gamma in my glow are keyed",
        ),
        (
            (
                *with_line("0 moves Gamma Gamma = is driven by frame"),
                *(f"0 moves Mix Factor {number} = is driven by frame" for number in range(4)),
                "0 moves its material = is moved by NLA tracks",
            ),
            "Gamma Gamma, Mix Factor 0, Mix Factor 1 and 2 more are driven by frame, its material is moved by NLA",
        ),
        (with_line("0 moves"), ""),
        (with_line("0 bare"), ""),
        (with_line("0 no output"), ""),
        (with_line("0 value n1 Emission › Strength = 1.5", BUILT[2]), "Emission › Strength is 1.5, built 1"),
        (with_line("0 choice n3 Attribute › Name = my image of a node = /"), ""),
        (with_line("0 node n3 ShaderNodeGamma Gamma"), "it has a Gamma node"),
        (
            with_line("0 image n2 0123abcd NONE FILE saved sRGB /reeds.png", IMAGE),
            "Alpha of its image is None, built Str",
        ),
        (
            with_line("0 image n2 0123abcd STRAIGHT FILE saved Linear Rec.709 /reeds.png", IMAGE),
            "the Color Space of its image is Linear Rec.709, built sRGB",
        ),
        (with_line("0 image n2 0123abcd STRAIGHT FILE unsaved sRGB /reeds.png", IMAGE), "painted on and not saved"),
        (tuple(one for one in BUILT if " link " not in one), "its nodes are linked in another way"),
    ],
)
def test_every_fact_of_a_material_is_said_in_words(here: tuple[str, ...], said: str) -> None:
    assert looks(here) != looks(BUILT)
    words = differences(BUILT, here)
    assert words
    assert said in words
    assert "ShaderNode" not in words


def test_the_same_bytes_under_another_name_look_the_same() -> None:
    assert looks(with_line(IMAGE.replace("reeds", "a b = c image "), IMAGE)) == looks(BUILT)


def stops_with(paint: tuple[str, ...]) -> list[Fault]:
    reading = reading_of(PLAN)
    first = replace(reading.levels[0], paint=paint)
    change = Change("reeds", "material", "Material.node_tree", "Material", "", "", 40.0, 3)
    reading = replace(reading, levels=(first, *reading.levels[1:]), paints={"reeds": BUILT}, changes=(change,))
    return [fault for fault in told(reading) if fault.severity == BLOCK]


def test_a_driven_material_is_one_fault_that_names_level_and_property() -> None:
    value = "0 value n1 Emission › Strength = 1.1"
    driven = "0 moves Emission Strength = is driven by 1+frame*0.1"
    (one,) = stops_with((*with_line(value, BUILT[2]), driven))
    assert (one.code, one.subject) == ("art-differs", "reeds")
    assert one.message.startswith("reeds: Emission Strength is driven by 1+frame*0.1; it changes pixels by up to 40")
    assert "1.1" not in one.message


def test_art_of_other_bytes_says_which_image_to_reload() -> None:
    (one,) = stops_with(with_line(IMAGE.replace("0123abcd", "ffff0000"), IMAGE))
    assert "reload the image reeds.png" in one.message


@pytest.mark.parametrize(("more", "said"), [(3, "5 is 2, built 1"), (4, "5 is 2, built 1 …")])
def test_three_differences_are_named_and_more_are_hinted_at(more: int, said: str) -> None:
    built, here = ([f"0 value n1 Mix › Value {number} = {value}" for number in range(3, 3 + more)] for value in (1, 2))
    assert differences(built, here).endswith(said)
