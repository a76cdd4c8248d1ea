# SPDX-License-Identifier: GPL-3.0-or-later
"""The rooms of the house: who may import whom, what Blender is asked where, and what lies at the top of the project.

The laws are read from the source with ast, so nothing is imported. Each law is also shown a module that breaks it.
"""

import ast
import re
import subprocess
import sys
from collections.abc import Iterable, Iterator
from graphlib import TopologicalSorter
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCES = (ROOT / "blender_addon", ROOT / "headless")

# Every room, and the rooms of ours that it may import: itself and these, and no other. They are told one by one.
SHOT = ("underglass.shot",)
FILES = (*SHOT, "underglass.image", "underglass.shot.files")
PLAN = (*SHOT, "underglass.optics", "underglass.plan")
CORNERS = "underglass.proof.measure.measured_corners"
MEASURE = ("underglass.proof.measure", CORNERS)
DIAGNOSE = (*PLAN, "underglass.reading", "underglass.proof", *MEASURE)
AUDIT = (*DIAGNOSE, "underglass.shot.files", "underglass.proof.diagnose")
VERDICT = (*AUDIT, "underglass.proof.audit")
PROOF = (*VERDICT, "underglass.proof.verdict")
# what a command may know of the other package: all but what holds Blender
ALL_BUT_BLENDER = (*FILES, *PROOF, "underglass.plan.findings", "underglass.layered")

RESULTS, MACHINE, BLENDER = (f"underglass_headless.{room}" for room in ("results", "machine", "blender"))
EXR, WORK, REPORT, TELLING = (f"underglass_headless.{room}" for room in ("exr", "work", "report", "telling"))
IN_BLENDER, ENGINES, PROVING = (f"underglass_headless.{room}" for room in ("in_blender", "engines", "proving"))
DELIVERED, DESK = "underglass_headless.delivered", "underglass_headless.desk"
FRAME_FILES = (EXR, f"{DELIVERED}.files")
JUDGING = (*FRAME_FILES, f"{DELIVERED}.whole", f"{DELIVERED}.judging")

ROOMS: dict[str, tuple[str, ...]] = {
    "underglass": ("underglass.registration",),
    "underglass.shot": (),
    "underglass.image": SHOT,
    "underglass.shot.files": (*SHOT, "underglass.image"),
    "underglass.optics": (),
    "underglass.plan": (*SHOT, "underglass.optics"),
    "underglass.plan.findings": PLAN,
    "underglass.layered": (*FILES, "underglass.optics"),
    # it is read from a scene, whatever was planned
    "underglass.reading": (),
    "underglass.revise": (*PLAN, "underglass.reading", "underglass.proof", "underglass.proof.diagnose"),
    "underglass.proof": PLAN,
    # it sees pixels and must not know what they should be
    CORNERS: (),
    "underglass.proof.measure": ("underglass.image", "underglass.optics", "underglass.reading", CORNERS),
    "underglass.proof.diagnose": DIAGNOSE,
    "underglass.proof.audit": AUDIT,
    "underglass.proof.verdict": VERDICT,
    "underglass.blender_versions": (),
    "underglass.stage": (*PROOF, "underglass.image", "underglass.blender_versions"),
    # the script that makes a proof in the background of a window
    "underglass.stage.background_proof": (),
    "underglass.ui": (*ALL_BUT_BLENDER, "underglass.revise", "underglass.blender_versions", "underglass.stage"),
    "underglass.registration": ("underglass.ui",),
    "underglass_headless": (),
    "underglass_headless.__main__": ("underglass_headless.cli", TELLING),
    "underglass_headless.cli": (
        *(*ALL_BUT_BLENDER, "underglass_headless.options", RESULTS, BLENDER, TELLING, PROVING, REPORT, ENGINES),
        *("underglass_headless.art", DELIVERED, DESK, f"{DESK}.brief", f"{DESK}.planner", f"{DESK}.sheets"),
    ),
    "underglass_headless.options": (*SHOT, "underglass.proof"),
    RESULTS: (*SHOT, "underglass.shot.files"),
    MACHINE: (),
    "underglass_headless.art": (*FILES, "underglass.layered"),
    BLENDER: (*FILES, "underglass.plan", "underglass.proof", MACHINE, RESULTS),
    EXR: ("underglass.image", "underglass.proof", *MEASURE, MACHINE, BLENDER),
    WORK: (*FILES, "underglass.plan", *MEASURE, RESULTS),
    REPORT: (*PLAN, "underglass.image", "underglass.proof", RESULTS),
    TELLING: (*SHOT, "underglass.proof", WORK),
    # the rooms of the process that holds Blender: no other knows the stage
    IN_BLENDER: (
        *(*FILES, *PROOF, "underglass.blender_versions", "underglass.stage"),
        *(MACHINE, RESULTS, BLENDER, EXR, WORK, REPORT),
    ),
    # a worker of a cluster comes to Blender only where it runs
    ENGINES: (*FILES, "underglass.plan", "underglass.proof", MACHINE, RESULTS, BLENDER, WORK, IN_BLENDER),
    PROVING: (*FILES, *PROOF, MACHINE, RESULTS, BLENDER, WORK, REPORT, TELLING, ENGINES),
    f"{DELIVERED}.files": (*PLAN, "underglass.proof", *MEASURE, EXR),
    f"{DELIVERED}.whole": (*PLAN, "underglass.image", "underglass.proof", *MEASURE, *FRAME_FILES),
    f"{DELIVERED}.judging": (*PROOF, "underglass.image", *FRAME_FILES, f"{DELIVERED}.whole"),
    f"{DELIVERED}.art": (*PROOF, "underglass.image", *JUDGING),
    DELIVERED: (*FILES, *PROOF, MACHINE, REPORT, TELLING, PROVING, *JUDGING, f"{DELIVERED}.art"),
    f"{DESK}.brief": FILES,
    f"{DESK}.guide": (*PLAN, "underglass.plan.findings", "underglass.proof", REPORT, f"{DESK}.brief"),
    f"{DESK}.planner": (*PLAN, *FILES, "underglass.proof", RESULTS, f"{DESK}.brief", f"{DESK}.guide"),
    f"{DESK}.sheets": (*PLAN, *FILES, "underglass.proof", "underglass.layered", RESULTS, REPORT),
    DESK: (
        *(*PLAN, *FILES, "underglass.plan.findings", "underglass.proof", RESULTS),
        *(f"{DESK}.brief", f"{DESK}.guide", f"{DESK}.planner"),
    ),
}

BLENDER_MODULES = {"bpy", "bpy_extras", "bmesh", "mathutils", "gpu", "gpu_extras", "blf", "addon_utils"}
ROOMS_WITH_BLENDER = {
    "underglass.blender_versions",
    "underglass.stage",
    "underglass.stage.background_proof",
    "underglass.ui",
    "underglass.registration",
    IN_BLENDER,
}

# What differs between versions of Blender is asked in one file.
VERSIONS = "underglass.blender_versions"
VERSION_WORDS = {"fcurves", "media_type", "use_nodes"}

TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "blender_addon",
    "headless",
    "tests",
    "scenes",
    "pyproject.toml",
    ".ci",
}

# Folders of one machine or one user, which no file of the project should name.
MACHINE_PATH = re.compile(rb"(?<![\w./~-])/(?:work|root|tmp/envs|home/[a-z]+)/[\w.-]|[.]pyenv/versions/\d")


class Module(NamedTuple):
    """One module: its dotted name, whether it is a package's ``__init__``, and its source as a tree."""

    name: str
    is_package: bool
    tree: ast.Module


class Import(NamedTuple):
    """One imported name, made absolute; ``relative`` tells how it was written."""

    target: str
    relative: bool
    line: int


# -- reading -----------------------------------------------------------------------------------------------------------


def modules() -> list[Module]:
    """Return all modules of the two packages."""
    return [read_module(file, source) for source in SOURCES for file in sorted(source.rglob("*.py"))]


def read_module(file: Path, source: Path) -> Module:
    parts = file.relative_to(source).with_suffix("").parts
    return module_of(".".join(parts), file.read_text(encoding="utf-8"))


def module_of(name: str, text: str) -> Module:
    """Return the module ``name``, written as a path with dots: ``underglass.plan.__init__`` is a package."""
    is_package = name.endswith(".__init__")
    return Module(name.removesuffix(".__init__"), is_package, ast.parse(text))


def imports(module: Module) -> Iterator[Import]:
    """Yield every import of ``module``, wherever it stands, also those for the type checker only."""
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Import):
            yield from (Import(alias.name, False, node.lineno) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            start = anchor(module, node)
            yield from (Import(f"{start}.{alias.name}", node.level > 0, node.lineno) for alias in node.names)


def anchor(module: Module, node: ast.ImportFrom) -> str:
    """Return the absolute name that ``from … import`` starts from."""
    if node.level == 0:
        return node.module or ""
    up = node.level - 1 if module.is_package else node.level
    parts = module.name.split(".")
    return ".".join([*parts[: len(parts) - up], *([node.module] if node.module else [])])


def room_of(name: str) -> str | None:
    """Return the room that ``name`` lies in, the narrowest; None for what is not ours."""
    parts = name.split(".")
    prefixes = (".".join(parts[:count]) for count in range(len(parts), 0, -1))
    return next((prefix for prefix in prefixes if prefix in ROOMS), None)


# -- the laws: each yields what breaks it ------------------------------------------------------------------------------


def wrong_arrows(module: Module) -> Iterator[str]:
    """Yield imports that lead from one room into another that it may not know."""
    room = room_of(module.name)
    assert room is not None, f"{module.name} lies in no room"
    for item in imports(module):
        target = room_of(item.target)
        if target not in (None, room, *ROOMS[room]):
            yield f"{module.name}:{item.line} imports {item.target}: {room} must not know {target}"


def wrong_blender(module: Module) -> Iterator[str]:
    """Yield imports of Blender's modules in rooms that work without it."""
    if room_of(module.name) in ROOMS_WITH_BLENDER:
        return
    for item in imports(module):
        if item.target.split(".")[0] in BLENDER_MODULES:
            yield f"{module.name}:{item.line} imports {item.target}: this room works without Blender"


def wrong_strangers(module: Module) -> Iterator[str]:
    """Yield what an extension cannot have: other packages than numpy, and itself by its absolute name."""
    if module.name.split(".")[0] != "underglass":
        return
    for item in imports(module):
        top = item.target.split(".")[0]
        if top == "underglass" and not item.relative:
            yield f"{module.name}:{item.line} imports {item.target}: an extension has another name, say it relatively"
        elif top not in {"underglass", "numpy", *BLENDER_MODULES, *sys.stdlib_module_names}:
            yield f"{module.name}:{item.line} imports {item.target}: the extension brings numpy only"


def wrong_version_questions(module: Module) -> Iterator[str]:
    """Yield questions about Blender's version, and words that changed between versions, outside of their one file."""
    if module.name == VERSIONS:
        return
    for node in ast.walk(module.tree):
        word = version_word(node)
        if word:
            yield f"{module.name}:{node.lineno} says {word}: only {VERSIONS} knows versions of Blender"


def version_word(node: ast.AST) -> str | None:
    """Return the word in ``node`` that one file may ask, as an attribute or as a string for getattr and its like."""
    match node:
        case ast.Attribute(attr="version", value=ast.Attribute(attr="app") | ast.Name(id="app")):
            return "app.version"
        case ast.Attribute(attr=word) | ast.Constant(value=str(word)) if word in VERSION_WORDS:
            return word
    return None


def wrong_registration(module: Module) -> Iterator[str]:
    """Yield uses of the context or the data where Blender withholds them."""
    if module.name != "underglass.registration":
        return
    withheld = {"bpy.context", "bpy.data"}
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Attribute) and ast.unparse(node) in withheld:
            yield f"{module.name}:{node.lineno} touches {ast.unparse(node)}, which Blender withholds while it registers"
    for item in imports(module):
        if item.target in withheld:
            yield f"{module.name}:{item.line} imports {item.target}, which Blender withholds while it registers"


LAWS = [wrong_arrows, wrong_blender, wrong_strangers, wrong_version_questions, wrong_registration]


@pytest.mark.parametrize("law", LAWS)
def test_every_module_keeps_the_law(law):
    broken = [line for module in modules() for line in law(module)]
    assert not broken, "\n".join(broken)


def test_the_rooms_have_no_circle():
    assert list(TopologicalSorter({room: set(known) - {room} for room, known in ROOMS.items()}).static_order())


def test_every_room_of_the_law_is_there_and_every_arrow_leads_to_a_room():
    names = {module.name for module in modules()}
    assert set(ROOMS) <= names
    assert {known for arrows in ROOMS.values() for known in arrows} <= set(ROOMS)


def test_measuring_does_not_learn_of_the_plan_through_another_module():
    by_name = {module.name: module for module in modules()}
    reached, waiting = set(), [name for name in by_name if name.startswith("underglass.proof.measure.")]
    assert CORNERS in waiting
    while waiting:
        name = waiting.pop()
        if name not in by_name or name in reached:
            continue
        reached.add(name)
        # a "from" names a module or something in one: both are looked up
        waiting += [part for item in imports(by_name[name]) for part in (item.target, item.target.rpartition(".")[0])]
    assert not {name for name in reached if name.startswith("underglass.plan")}


def same_names(names: Iterable[str]) -> dict[str, list[str]]:
    """Return the names of modules that several files have; packages are left out."""
    found: dict[str, list[str]] = {}
    for name in names:
        found.setdefault(name.rpartition(".")[2], []).append(name)
    return {last: all_of_it for last, all_of_it in found.items() if len(all_of_it) > 1}


def test_no_two_files_have_one_name():
    """A file is looked for by its name, so that says what is in it, and in it alone."""
    assert same_names(module.name for module in modules() if not module.is_package) == {}
    assert list(same_names(["underglass.shot.model", "underglass.plan.model", "underglass.plan.tracks"])) == ["model"]


# -- the laws can fail -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("law", "name", "text"),
    [
        (wrong_arrows, "underglass.shot.model", "from ..plan.plan_arrays import Plan"),
        (wrong_arrows, "underglass.shot.__init__", "from ..optics import thin_lens"),
        (wrong_arrows, "underglass.shot.model", "from .files import read_shot"),
        (wrong_arrows, "underglass.shot.__init__", "from .files.read import read_shot"),
        (wrong_arrows, "underglass.image.art_size", "from ..shot.files.levels import read_level"),
        (wrong_arrows, "underglass.optics.light_falloff", "from .. import plan"),
        (wrong_arrows, "underglass.plan.plan_arrays", "def late():\n    from ..stage import build_stack"),
        (wrong_arrows, "underglass.plan.tracks", "from .findings import find"),
        (wrong_arrows, "underglass.reading.scene_reading", "from ..plan.plan_arrays import Plan"),
        (wrong_arrows, "underglass.stage.build_stack", "from ..ui.panels import CLASSES"),
        (wrong_arrows, "underglass.ui.panels", "from ..registration import CLASSES"),
        (wrong_arrows, "underglass.blender_versions", "from .shot import units"),
        (wrong_arrows, "underglass.shot.model", "from ..blender_versions import EEVEE"),
        (wrong_arrows, "underglass.stage.build_stack", "import underglass_headless.proving"),
        (wrong_arrows, "underglass.proof.proof_facts", "from .verdict.judge_levels import judge"),
        (wrong_arrows, "underglass.proof.diagnose.fault_words", "from ..audit import obstacles"),
        (wrong_arrows, "underglass.proof.verdict.judge_levels", "from ...stage import read_scene"),
        (wrong_arrows, "underglass.plan.plan_arrays", "from ..proof.proof_facts import Proof"),
        (wrong_arrows, "underglass.shot.files.shot_fingerprint", "from ...stage import build_stack"),
        (wrong_arrows, "underglass.stage.build_stack", "from . import background_proof"),
        (wrong_arrows, "underglass.stage.prove_here", "from ..ui import panels"),
        (wrong_arrows, CORNERS, "from ...plan.plan_arrays import Plan"),
        (wrong_arrows, CORNERS, "from ... import plan"),
        (wrong_arrows, "underglass.proof.measure.passes", "from ...plan.plan_arrays import Plan"),
        (wrong_arrows, "underglass_headless.cli", "from underglass import stage"),
        (wrong_arrows, "underglass_headless.cli", "from .in_blender.worker import main"),
        (wrong_arrows, "underglass_headless.engines.process_pool", "import underglass.blender_versions"),
        (wrong_arrows, "underglass_headless.engines.process_pool", "from ..proving import prove_shot"),
        (wrong_arrows, "underglass_headless.work.proof_job", "from ..engines import process_pool"),
        (wrong_arrows, "underglass_headless.blender.build_blend", "from ..in_blender import worker"),
        (wrong_arrows, "underglass_headless.report.proof_page", "from ..desk.guide import guide_page"),
        (wrong_arrows, "underglass_headless.desk.guide.guide_page", "from ..planner.answer import Answer"),
        (wrong_arrows, "underglass_headless.delivered.judging.file_faults", "from ..art import coverage"),
        (wrong_arrows, "underglass_headless.in_blender.worker", "from underglass.ui import panels"),
        (wrong_blender, "underglass.shot.model", "import bpy"),
        (wrong_blender, "underglass.plan.plan_arrays", "from mathutils import Vector"),
        (wrong_blender, "underglass.optics.light_falloff", "if True:\n    import gpu.state"),
        (wrong_blender, "underglass.proof.verdict.judge_levels", "from bpy_extras import object_utils"),
        (wrong_blender, "underglass.__init__", "import bpy"),
        (wrong_blender, "underglass_headless.engines.dask_worker", "import bpy"),
        (wrong_strangers, "underglass.shot.model", "import scipy.optimize"),
        (wrong_strangers, "underglass.plan.plan_arrays", "from underglass.shot import model"),
        (wrong_strangers, "underglass.ui.panels", "from PIL import Image"),
        (wrong_version_questions, "underglass.stage.build_stack", "import bpy\nnew = bpy.app.version >= (5, 0)"),
        (wrong_version_questions, "underglass.stage.build_stack", "from bpy import app\nnew = app.version[0]"),
        (wrong_version_questions, "underglass.stage.bake_keys", "curves = action.fcurves"),
        (wrong_version_questions, "underglass_headless.in_blender.worker", "setattr(settings, 'media_type', 'IMAGE')"),
        (wrong_version_questions, "underglass.ui.panels", "world.use_nodes = True"),
        (wrong_registration, "underglass.registration", "import bpy\nscene = bpy.context.scene"),
        (wrong_registration, "underglass.registration", "from bpy import data"),
    ],
)
def test_a_module_that_breaks_the_law_is_caught(law, name, text):
    assert list(law(module_of(name, text)))


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("underglass.__init__", "def register():\n    from . import registration"),
        ("underglass.plan.tracks", "import math\nimport numpy as np\nfrom ..shot.model import Shot"),
        ("underglass.plan.__init__", "from .plan_arrays import Plan\nfrom ..optics import thin_lens"),
        ("underglass.stage.build_stack", "import bpy\nfrom .. import blender_versions\nfrom ..plan import Plan"),
        (VERSIONS, "import bpy\nnew = bpy.app.version\ncurves = bpy.data.actions[0].fcurves"),
        (
            "underglass_headless.cli",
            "import click\nfrom underglass.plan import Plan\nfrom .proving import prove_shot",
        ),
        ("underglass_headless.in_blender.worker", "import bpy\nfrom underglass.stage import build_stack"),
        (
            "underglass.stage.prove_here",
            "import bpy\nfrom ..proof import verdict\nfrom . import read_scene",
        ),
        (CORNERS, "import numpy as np"),
    ],
)
def test_a_module_that_keeps_the_law_is_let_through(name, text):
    assert [line for law in LAWS for line in law(module_of(name, text))] == []


# -- the project -------------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def project_files() -> list[Path]:
    """Return the files that belong to the project: those git knows or would take."""
    if not (ROOT / ".git").exists():
        pytest.skip("not a git tree")
    # git is told that the tree may be another user's, as it is in some CI machines
    command = ["git", "-c", f"safe.directory={ROOT}", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    listed = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    files = [Path(name) for name in listed.split("\0") if name]
    return [file for file in files if (ROOT / file).is_file()]


def test_the_top_level_holds_only_what_belongs_there(project_files):
    assert {file.parts[0] for file in project_files} <= TOP_LEVEL


def test_no_file_names_a_place_on_one_machine(project_files):
    found = {file: MACHINE_PATH.search((ROOT / file).read_bytes()) for file in project_files}
    assert {str(file): hit.group() for file, hit in found.items() if hit} == {}


@pytest.mark.parametrize("place", ["work/shared", "root/x", "home/anna/art"])
def test_a_place_on_one_machine_is_caught(place):
    assert MACHINE_PATH.search(f'art = "/{place}"'.encode())


@pytest.mark.parametrize("text", ["frame/work/x", "~/work/x", "https://a.b/home/anna/"])
def test_other_places_are_not_mistaken_for_one(text):
    assert not MACHINE_PATH.search(text.encode())
