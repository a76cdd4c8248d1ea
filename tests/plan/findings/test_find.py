# SPDX-License-Identifier: GPL-3.0-or-later
"""All findings together: their order, what a shot says of them, no surprise on any shot, and the scenes of the demo."""

import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings

from plan.findings.small_stand import DRAWN, GROUND, NEAR, found, shot_of
from plan.plannable import plannable_shots
from underglass.plan import make_plan
from underglass.plan.findings import BLOCK, CODES, NOTE, SEVERITIES, WARN, Finding, find
from underglass.shot import EDGES, FrameTable, Move, Ruling, Shot, Stand
from underglass.shot.files import read_shot

SCENES = Path(__file__).resolve().parents[3] / "scenes"
FINDINGS_PY = Path(__file__).resolve().parents[3] / "blender_addon/underglass/plan/findings"

# A pan far off the ground, beyond the travel of the stand and much too fast, with a level that starts hard.
FAULTY = shot_of(
    Move("ground", "east", 5, 45, 0.0, 0.3),
    Move("near", "north", 5, 45, 0.0, 0.1),
    stand=Stand(level_east=(-0.1, 0.1)),
)


def test_stops_come_first_then_levels_from_the_lens_down_then_frames() -> None:
    findings = found(FAULTY)
    keys = [(SEVERITIES.index(f.severity), ("near", "ground").index(f.level), f.frames) for f in findings]
    assert keys == sorted(keys)
    assert {f.severity for f in findings} == {BLOCK, WARN, NOTE}


def test_a_level_has_one_finding_of_a_code() -> None:
    pairs = [(f.code, f.level) for f in found(FAULTY)]
    assert len(pairs) == len(set(pairs))


def test_a_shot_changes_the_severity_of_its_own_findings_and_says_why() -> None:
    wanted = replace(FAULTY, rulings=(Ruling("strobing", BLOCK, "no judder in this one"),))
    before, after = (next(f for f in found(shot) if f.code == "strobing") for shot in (FAULTY, wanted))
    assert (before.severity, after.severity) == (WARN, BLOCK)
    assert after.message == f"{before.message} (the shot file makes this a block: no judder in this one)"
    others = {f.code: f.severity for f in found(wanted) if f.code != "strobing"}
    assert others == {f.code: f.severity for f in found(FAULTY) if f.code != "strobing"}


def test_every_code_that_a_shot_may_rule_on_can_be_found_and_no_other() -> None:
    source = "".join(path.read_text(encoding="utf-8") for path in FINDINGS_PY.glob("*.py"))
    assert [code for code in CODES if f'"{code}"' not in source] == []


def in_order(finding: Finding, shot: Shot) -> bool:
    first, last = finding.frames
    return (
        finding.code in CODES
        and finding.severity in SEVERITIES
        and finding.level in ("", "camera", *shot.names)
        and shot.frames[0] <= first <= last <= shot.frames[1]
        and all(type(number) is int for number in finding.frames)
        and type(finding.value) is type(finding.limit) is float
        and not math.isnan(finding.value)
        and math.isfinite(finding.limit)
        and all((finding.unit, finding.message, finding.remedy))
        and "\n" not in finding.message + finding.remedy
    )


@settings(DRAWN, max_examples=150)
@given(shot=plannable_shots(most_levels=5, most_frames=30))
def test_whatever_the_shot_its_findings_are_whole(shot: Shot) -> None:
    for finding in find(make_plan(shot)):
        assert in_order(finding, shot), finding


def mirrored(shot: Shot) -> Shot:
    """Return the shot as a mirror shows it, east for west; nothing is expected of it."""

    def mirror(part):
        sides = getattr(part, "covers", None)
        swapped = sides and tuple({"left": "right", "right": "left"}.get(edge, edge) for edge in sides)
        changes = {"covers": swapped} if sides else {}
        return replace(part, east=-part.east, turn=-part.turn, **changes)

    def over(axis: str, value: float | None) -> float | None:
        return -value if value is not None and axis in ("east", "turn") else value

    def table_over(table: FrameTable) -> FrameTable:
        axes = [axis for _, axis in table.columns]
        rows = tuple(tuple(over(axis, v) for axis, v in zip(axes, row, strict=True)) for row in table.values)
        return replace(table, values=rows)

    schedule = shot.schedule
    if isinstance(schedule, tuple):
        schedule = tuple(replace(m, start=over(m.axis, m.start), end=over(m.axis, m.end)) for m in schedule)
    else:
        schedule = table_over(schedule)
    levels = tuple(mirror(level) for level in shot.levels)
    lamps = tuple(replace(lamp, east=-lamp.east) for lamp in shot.lamps)
    return replace(
        shot,
        camera=mirror(shot.camera),
        levels=levels,
        lamps=lamps,
        schedule=schedule,
        chart=table_over(shot.chart),
        expectations=(),
    )


@settings(DRAWN, max_examples=60)
@given(shot=plannable_shots(most_levels=4, most_frames=20))
def test_a_mirror_finds_the_same(shot: Shot) -> None:
    """A rounding may put a finding at its very limit on one side of it only, so values there are left out."""
    shot = replace(shot, expectations=(), levels=tuple(replace(level, covers=EDGES) for level in shot.levels))
    one, other = ({(f.code, f.level): f for f in find(make_plan(s))} for s in (shot, mirrored(shot)))
    for key in one.keys() ^ other.keys():
        finding = one.get(key) or other[key]
        assert finding.value == pytest.approx(finding.limit, rel=1e-6), finding
    for key in one.keys() & other.keys():
        assert abs(one[key].value) == pytest.approx(abs(other[key].value), rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("scene", ["estuary", "market", "calibration"])
def test_nothing_stops_the_scenes_of_the_demo(scene: str) -> None:
    shot = read_shot(SCENES / scene)
    findings = find(make_plan(shot))
    assert [finding for finding in findings if finding.severity == BLOCK] == []
    assert all(in_order(finding, shot) for finding in findings)
    # an operator reads them all
    assert sum(finding.severity == WARN for finding in findings) <= 4


def test_a_shot_of_one_frame_is_looked_at_too() -> None:
    assert found(shot_of(levels=(NEAR, GROUND), frames=(1, 1))) == []
    assert [f.code for f in found(shot_of(levels=(replace(GROUND, east=1.0),), frames=(7, 7)))] == ["off-art"]
