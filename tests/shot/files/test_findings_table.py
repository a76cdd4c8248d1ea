# SPDX-License-Identifier: GPL-3.0-or-later
"""What a shot says of findings, lamps, speeds and sharpness: read as written, and refused with what would be right."""

import math
from dataclasses import replace

import pytest

from underglass.shot import Lamp, Ruling, ShotError
from underglass.shot.files import read_shot
from underglass.shot.files.amend_files import amend_shot
from underglass.shot.files.stamp import texts_of

LAMP = '\n[[lamp]]\nname = "key"\ncandela = 900\nheight = 60\neast = -20\nlevels = ["reeds"]\n'
RULING = '\n[findings]\nstrobing = { severity = "note", reason = "zip pan wanted" }\n'


def wrong(lay_out, texts, addition: str = "", *, old: str = "", new: str = "") -> str:
    with pytest.raises(ShotError) as caught:
        read_shot(lay_out(shot=texts["shot"].replace(old, new) + addition))
    return str(caught.value)


def test_a_lamp_is_read_in_metres(lay_out, texts) -> None:
    shot = read_shot(lay_out(shot=texts["shot"] + LAMP))
    assert shot.lamps == (Lamp("key", 900.0, 60 * 0.0254, -20 * 0.0254, 0.0, ("reeds",)),)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (('name = "key"', 'name = " "'), "give the lamp a name"),
        (("candela = 900", "candela = 0"), "write a light above 0"),
        (("candela = 900\n", ""), "lamp[1].candela: is missing"),
        (("height = 60\n", ""), "lamp[1].height: is missing"),
        (("height = 60", 'height = "60"'), "not a number"),
        (('["reeds"]', '["reed"]'), "did you mean 'reeds'?"),
        (('["reeds"]', "[]"), "leave it out to light all"),
        (("east", "eas"), "did you mean 'east'?"),
    ],
)
def test_a_lamp_that_is_none_is_refused(lay_out, texts, change, said) -> None:
    error = wrong(lay_out, texts, LAMP.replace(*change))
    assert said in error
    assert "shot.toml:" in error


def test_two_lamps_have_two_names(lay_out, texts) -> None:
    assert "is the name of an earlier lamp; give each its own name" in wrong(lay_out, texts, LAMP + LAMP)


@pytest.mark.parametrize(
    "table",
    [RULING, '\n[findings.strobing]\nseverity = "note"\nreason = "zip pan wanted"\n'],
    ids=["in one line", "as a table"],
)
def test_a_shot_rules_on_a_finding_with_a_reason(lay_out, texts, table) -> None:
    assert read_shot(lay_out(shot=texts["shot"] + table)).rulings == (Ruling("strobing", "note", "zip pan wanted"),)


def test_the_old_word_for_block_is_still_read_and_stays_in_the_file(lay_out, texts) -> None:
    file = lay_out(shot=texts["shot"] + RULING.replace('"note"', '"stop"')) / "shot.toml"
    shot, before = read_shot(file), file.read_text(encoding="utf-8")
    assert shot.rulings == (Ruling("strobing", "block", "zip pan wanted"),)
    after = amend_shot(shot, replace(shot, title="Another"), texts=texts_of(shot))
    assert list(after) == [file]
    assert after[file] == before.replace(f'title = "{shot.title}"', 'title = "Another"') != before


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("strobing", "strobe"), "findings.strobe: is not a key of the format; did you mean 'strobing'?"),
        (('"note"', '"notes"'), "did you mean 'note'?"),
        (('"note"', '"off"'), "write one of 'block', 'warn', 'note'"),
        ((', reason = "zip pan wanted"', ""), "findings.strobing.reason: is missing"),
        (("zip pan wanted", " "), "say why"),
        (('{ severity = "note", reason = "zip pan wanted" }', '"note"'), "not a table"),
        (("reason", "because"), "findings.strobing.because: is not a key"),
    ],
)
def test_a_ruling_that_is_none_is_refused(lay_out, texts, change, said) -> None:
    error = wrong(lay_out, texts, RULING.replace(*change))
    assert said in error
    assert "\n" not in error


def test_speeds_and_sharpness_are_read(lay_out, texts) -> None:
    text = texts["shot"].replace("counter = 0.01", "counter = 0.01\ncamera_speed = 0.5\nlevel_speed = 0.25")
    shot = read_shot(lay_out(shot=text.replace("f_stop = 8", "f_stop = 8\nblur_mm = 0.03")))
    assert (shot.stand.camera_speed, shot.stand.level_speed) == (0.5 * 0.0254, 0.25 * 0.0254)
    assert math.isclose(shot.camera.blur, 0.03e-3)


def test_parallel_rays_know_no_circle(lay_out, texts) -> None:
    parallel = texts["shot"].replace("f_stop = 8", "blur_mm = 0.03").replace('"perspective"', '"orthographic"')
    parallel = parallel.replace("focal_mm = 50", "field_width = 12").replace('focus = "reeds"\n', "")
    with pytest.raises(ShotError, match=r"camera\.blur_mm: belongs to a perspective camera"):
        read_shot(lay_out(shot=parallel))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("counter = 0.01", "camera_speed = 0", "stand.camera_speed: is 0 in"),
        ("counter = 0.01", "level_speed = -1", "stand.level_speed: is -1 in"),
        ("f_stop = 8", "blur_mm = 0", "write a circle above 0 and at most 1 mm"),
        ("f_stop = 8", "blur_mm = 25", "write a circle above 0 and at most 1 mm"),
    ],
)
def test_a_speed_or_a_circle_of_nothing_is_refused(lay_out, texts, old, new, said) -> None:
    assert said in wrong(lay_out, texts, old=old, new=new)
