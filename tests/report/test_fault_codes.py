# SPDX-License-Identifier: GPL-3.0-or-later
"""Codes of faults: what the code makes, what the schema lets through and what the page explains are the same.

Each check is also shown something that breaks it.
"""

import ast
import copy
import json
import re
from collections import Counter
from dataclasses import replace

import jsonschema
import numpy as np
import pytest

from proof.readings import reading_of
from report import codes_page, synthetic
from report.codes_made import MOVING, ROOT, STILL_SHAPES, Sources, UnreadableError, axis_names, is_of_proof
from underglass.plan import make_plan
from underglass.plan.plan_arrays import Plan
from underglass.proof.diagnose.deviation_shapes import Shape, shape_of
from underglass.proof.diagnose.part_that_is_off import ALWAYS_STOP
from underglass.proof.diagnose.stand_axes import Axis, camera_axes, level_axes
from underglass.proof.proof_json import proof_record
from underglass.shot import CAMERA, CAMERA_AXES, LEVEL_AXES, Move, Projection
from underglass_headless.delivered.judging.file_faults import SPOILT
from underglass_headless.delivered.judging.unproved import _COARSE
from underglass_headless.report.fault_codes import AXES, CODES, JUNIT_ALONE, SHAPES
from underglass_headless.report.schemas import proof_schema

SOURCES = Sources.of_project()
PAGE = codes_page.PAGE.read_text(encoding="utf-8")
SCHEMA = codes_page.SCHEMA.read_text(encoding="utf-8")
KINDS = sorted((ROOT / "tests" / "faults").glob("*_kinds.py"))

ADD_ON, HEADLESS = "blender_addon/underglass", "headless/underglass_headless"
FAULTS_TAIL = '"block", "scene", "", (1, 2), 0.0, "", 0.0, "it is wrong"'


def differences(sources: Sources, known: set[str]) -> tuple[dict[str, set[str]], set[str]]:
    """Return the codes that are made and not known, with where, and those that are known and not made."""
    made = sources.codes()
    return {code: where for code, where in made.items() if code not in known}, known - set(made)


def rows_of(page: str) -> list[list[str]]:
    """Return the cells of every row of the table of codes."""
    chapter = page.split("\n## Fault codes\n")[1].split("\n### ", maxsplit=1)[0]
    return [line.strip("| ").split(" | ") for line in chapter.splitlines() if line.startswith("| `")]


def codes_of(page: str) -> list[str]:
    return [code for row in rows_of(page) for code in re.findall("`([^`]+)`", row[0])]


# -- code and table ----------------------------------------------------------------------------------------------------


def test_every_code_that_can_be_made_is_explained_and_no_other():
    assert differences(SOURCES, set(CODES)) == ({}, set())


def test_every_type_of_failure_in_junit_is_explained():
    assert SOURCES.of_junit() <= {*CODES, *JUNIT_ALONE}
    assert set(JUNIT_ALONE) == SOURCES.of_junit() - set(CODES)


@pytest.mark.parametrize("asked", [SPOILT, ALWAYS_STOP, set(_COARSE)])
def test_every_code_that_is_asked_for_is_made(asked):
    assert asked <= set(CODES)


def test_every_code_is_explained_in_whole_sentences():
    for name, code in {**CODES, **JUNIT_ALONE}.items():
        assert name == code.code
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", name)
        assert code.found_by
        for text in (code.meaning, code.remedy):
            assert re.fullmatch(r"[A-Z][^{}|\n]*\.", text), f"{name}: {text}"
    assert max(Counter(code.meaning for code in CODES.values()).values()) == 1


# -- axes and shapes ---------------------------------------------------------------------------------------------------


def all_moving() -> Plan:
    """Return a plan in which a schedule moves all that it can move."""
    shot = synthetic.shot()
    parts = [(CAMERA, shot.camera, CAMERA_AXES), *((level.name, level, LEVEL_AXES) for level in shot.levels)]
    moves = [
        Move(name, axis, *shot.frames, getattr(part, axis), getattr(part, axis) + 0.005)
        for name, part, axes in parts
        for axis in axes
    ]
    return make_plan(replace(shot, schedule=tuple(moves)))


def axes_read(plan: Plan) -> list[Axis]:
    """Return all axes of all parts, of a perspective camera and of an orthographic one."""
    reading = reading_of(plan)
    camera = replace(plan.shot.camera, projection=Projection.ORTHOGRAPHIC, gate=None, field_width=0.3)
    parallel = replace(plan, shot=replace(plan.shot, camera=camera))
    return [
        axis
        for made in (plan, parallel)
        for axes in (camera_axes(made, reading=reading), level_axes(made, reading=reading, column=1, found=1))
        for axis in axes
    ]


def test_axes_and_shapes_are_those_of_the_proof():
    names = {axis.axis for axis in AXES}
    assert names == axis_names(SOURCES) == {axis.name for axis in axes_read(all_moving())}
    assert set(SHAPES) == {shape.value for shape in Shape}


def test_only_axes_that_the_plan_moves_are_listed_with_the_shapes_of_moves():
    moved = {axis.name for axis in axes_read(all_moving()) if np.ptp(axis.planned) > 0}
    assert moved == MOVING == {axis.axis for axis in AXES if axis.moves}
    # what stands in no plan of a move stands still in every plan
    assert {axis.name for axis in axes_read(all_moving()) if np.ptp(axis.planned) == 0} == {
        axis.axis for axis in AXES if not axis.moves
    }


def test_what_was_planned_to_stand_still_is_offset_or_strays():
    rng = np.random.default_rng(1977)
    rows = np.arange(48)
    seen = [
        0.3 + np.zeros(48),
        np.where(rows > 20, 0.3, 0.1),
        np.linspace(0.1, 0.3, 48),
        *rng.normal(0.1, 1, (200, 48)),
    ]
    found = {shape_of(np.full(48, 0.1), seen=track, floor=1e-5).shape for track in seen}
    assert found == set(STILL_SHAPES)
    for axis in AXES:
        assert set(axis.shapes) == ({*SHAPES} if axis.moves else {shape.value for shape in STILL_SHAPES})


# -- schema ------------------------------------------------------------------------------------------------------------


def test_the_schema_lets_these_codes_through_and_no_other():
    assert proof_schema()["$defs"]["fault"]["properties"]["code"]["enum"] == sorted(CODES)
    # if this alone fails: python tests/report/codes_page.py writes the list anew
    assert codes_page.schema_with(SCHEMA) == SCHEMA


@pytest.mark.parametrize("code", ["height-off", "Height-offset", "fails", ""])
def test_the_schema_refuses_a_code_that_nobody_explains(code):
    validator = jsonschema.Draft202012Validator(proof_schema())
    record = json.loads(json.dumps(proof_record(synthetic.failing())))
    assert validator.is_valid(record)
    wrong = copy.deepcopy(record)
    wrong["faults"][0]["code"] = code
    assert not validator.is_valid(wrong)


def test_made_up_proofs_have_codes_that_exist():
    assert {fault.code for fault in synthetic.failing().faults} <= set(CODES)


# -- page --------------------------------------------------------------------------------------------------------------


def test_the_page_explains_every_code_in_the_words_of_the_table():
    # if this alone fails: python tests/report/codes_page.py writes the tables anew
    assert codes_page.page_with(PAGE) == PAGE


def test_the_page_names_every_code_once():
    assert sorted(codes_of(PAGE)) == sorted({**CODES, **JUNIT_ALONE})
    for names, meaning, remedy, found_by in rows_of(PAGE):
        code = {**CODES, **JUNIT_ALONE}[re.findall("`([^`]+)`", names)[0]]
        assert found_by == ", ".join(code.found_by)
        if names == f"`{code.code}`":
            assert (meaning, remedy) == (code.meaning, code.remedy)


def test_the_pages_lead_to_each_other():
    main = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "(headless/README.md#" in main
    assert "(#fault-codes)" in PAGE
    assert "(../README.md)" in PAGE.splitlines()[0]
    # the codes of delivered frames
    table = PAGE.split("| code | what is found |\n")[1].split("\n\n")[0]
    told = {code for row in table.splitlines()[1:] for code in re.findall("`([^`]+)`", row.split(" | ")[0])}
    assert told
    assert told <= set(CODES)


# -- faults that are planted -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", KINDS, ids=lambda path: path.stem)
def test_every_code_that_planted_faults_are_awaited_by_exists(path):
    assert awaited(path.read_text(encoding="utf-8")) - set(CODES) == set()


def awaited(text: str) -> set[str]:
    """Return the codes that a module of kinds spells out: those of names, and those its own functions are given."""
    tree = ast.parse(text)
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    position = {
        function.name: names.index("code")
        for function in functions
        if "code" in (names := [arg.arg for arg in function.args.args])
        # of a film it is the axis, to which a shape is joined
        and function.name != "_film"
    }
    found = set()
    for call in (node for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)):
        match call.func.id:
            case "Name":
                codes = call.args[0].elts if isinstance(call.args[0], ast.Tuple) else []
            case name if name in position:
                codes = call.args[position[name] : position[name] + 1]
            case _:
                codes = []
        found |= {code.value for code in codes if isinstance(code, ast.Constant)}
    return found


# -- each check can fail -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "code"),
    [
        (f'def faults():\n    yield Fault("made-up", {FAULTS_TAIL})', "made-up"),
        ('fault = Fault(severity="note", code="made-up")', "made-up"),
        (
            f"def _fault(plan, code, text):\n    return Fault(code, {FAULTS_TAIL})\n\n"
            'def faults(plan):\n    yield _fault(plan, "made-up", "")',
            "made-up",
        ),
        (
            f"def _fault(code):\n    return Fault(code, {FAULTS_TAIL})\n\n"
            'def of(code):\n    return _fault(code)\n\nfaults = [of(code="made-up")]',
            "made-up",
        ),
        (
            f'def faults(bad):\n    code = "made-up" if bad else "missing"\n    yield Fault(code, {FAULTS_TAIL})',
            "made-up",
        ),
        (f'def faults():\n    for what in ("a", "b"):\n        yield Fault(f"made-{{what}}", {FAULTS_TAIL})', "made-b"),
        (f'def faults(code="made-up"):\n    yield Fault(code, {FAULTS_TAIL})', "made-up"),
        ('from .frame_faults import fault_of\n\nfault = fault_of("made-up", [1], "")', "made-up"),
        ('def again(fault):\n    return replace(fault, code="made-up")', "made-up"),
        (
            f"class Found:\n    why: str = ''\n\ndef look(bad):\n    return 'made-up' if bad else ''\n\n"
            f"found = Found(why=look(True))\nfault = Fault(found.why, {FAULTS_TAIL})",
            "made-up",
        ),
    ],
)
def test_a_code_that_is_not_explained_is_found_however_it_is_made(text, code):
    unknown, _ = differences(SOURCES.changed(f"{ADD_ON}/proof/new.py", text), set(CODES))
    assert code in unknown
    assert all(is_of_proof(place) for place in unknown[code])


@pytest.mark.parametrize("code", ["f'made-{len(text)}'", "found['code']", "nowhere", "'made-' + text", "*parts"])
def test_a_code_that_cannot_be_followed_is_an_error(code):
    text = f"def faults(text):\n    yield Fault({code}, {FAULTS_TAIL})"
    with pytest.raises(UnreadableError):
        SOURCES.changed(f"{ADD_ON}/proof/new.py", text).codes()


@pytest.mark.parametrize(
    ("name", "old", "new", "unknown"),
    [
        (f"{ADD_ON}/proof/audit/audit_scene.py", '"doubled", BLOCK', '"there-twice", BLOCK', {"there-twice"}),
        (f"{ADD_ON}/proof/audit/render_settings.py", '"layer-off"', '"layer-out"', {"layer-out"}),
        (f"{HEADLESS}/delivered/judging/file_faults.py", '"frame-nan", numbers', '"frame-odd", numbers', {"frame-odd"}),
        (
            f"{HEADLESS}/delivered/judging/frame_origins.py",
            '("scene", "camera")',
            '("scene", "world")',
            {"frame-of-another-world"},
        ),
        (f"{ADD_ON}/proof/diagnose/stand_axes.py", 'Axis("tilt"', 'Axis("lean"', {"lean-offset", "lean-strays"}),
        (f"{ADD_ON}/stage/read_scene.py", 'f"driver on', 'f"expression on', {"has-expression"}),
    ],
)
def test_a_code_that_changes_in_the_sources_is_found(name, old, new, unknown):
    text = SOURCES.modules[name].text
    assert old in text
    found, missing = differences(SOURCES.changed(name, text.replace(old, new)), set(CODES))
    assert set(found) == unknown
    assert missing or name.endswith("axes.py")


def test_a_code_that_nothing_makes_is_found():
    assert differences(SOURCES, {*CODES, "made-up"}) == ({}, {"made-up"})


def test_a_failure_that_is_not_explained_is_found():
    path = "headless/underglass_headless/report/junit.py"
    text = SOURCES.modules[path].text.replace('"fails"', '"breaks"')
    assert "breaks" in SOURCES.changed(path, text).of_junit() - {*CODES, *JUNIT_ALONE}


def test_a_page_in_other_words_is_found():
    meaning, remedy = CODES["border"].meaning, CODES["border"].remedy
    row = next(line for line in PAGE.splitlines() if line.startswith("| `border`"))
    for wrong in (
        PAGE.replace(meaning, "Something is wrong."),
        PAGE.replace(remedy, "Try again."),
        PAGE.replace("`border`", "`boarder`"),
        PAGE.replace(f"{row}\n", ""),
        PAGE.replace(row, f"{row}\n{row.replace('border', 'made-up')}"),
    ):
        assert wrong != PAGE
        assert codes_page.page_with(wrong) != wrong


def test_a_schema_with_other_codes_is_found():
    for wrong in (SCHEMA.replace('"border",', ""), SCHEMA.replace('"border",', '"border", "made-up",')):
        assert wrong != SCHEMA
        assert codes_page.schema_with(wrong) == SCHEMA


def test_a_planted_fault_with_a_code_that_does_not_exist_is_found():
    assert awaited('name = Name(("bent", *others), who)') == {"bent"}
    assert awaited('def thing(name, code): ...\nthing("a leaf", "made-up")') == {"made-up"}
