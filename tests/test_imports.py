"""The rooms of the house: who may import whom, what Blender is asked where, and what lies at the top of the project.

The laws are read from the source with ast, so nothing is imported. Each law is also shown a module that breaks it.
"""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCES = (ROOT / "blender_addon", ROOT / "headless")

CORE = ("underglass.shot", "underglass.optics", "underglass.plan")
LAYERED = ("underglass.layered",)
PROOF = ("underglass.proof", "underglass.proof.measure.measured_corners")
IN_A_CLUSTER = "underglass_headless.engines.dask_worker"
HOLDING_BLENDER = (
    "underglass_headless.in_blender.worker",
    "underglass_headless.in_blender.scene_files",
    "underglass_headless.in_blender.do_units",
    "underglass_headless.in_blender.linked_files",
)
BELOW_UI = (*CORE, *PROOF, "underglass.revise", "underglass.blender_versions", "underglass.stage", *LAYERED)

# Every room, and the rooms of ours that it may import: itself and these.
ROOMS: dict[str, tuple[str, ...]] = {
    "underglass": ("underglass.registration",),
    "underglass.shot": (),
    "underglass.optics": CORE[:1],
    "underglass.plan": CORE[:2],
    "underglass.proof": (*CORE, "underglass.proof.measure.measured_corners"),
    # it reads pixels and must not know what they should be
    "underglass.proof.measure.measured_corners": (),
    "underglass.revise": (*CORE, *PROOF),
    "underglass.layered": CORE[:2],
    "underglass.blender_versions": (),
    "underglass.stage": (*CORE, *PROOF, "underglass.blender_versions"),
    # the script that makes a proof in the background of a window
    "underglass.stage.background_proof": (),
    "underglass.ui": BELOW_UI,
    "underglass.registration": (*BELOW_UI, "underglass.ui"),
    "underglass_headless": (*CORE, *PROOF, *LAYERED, IN_A_CLUSTER),
    # it is known where a cluster is asked, and comes to Blender only where it runs
    IN_A_CLUSTER: (*CORE, *PROOF, "underglass_headless", "underglass_headless.in_blender.do_units"),
    # what of headless holds Blender: the process, how it opens scenes, and the units of work that it does
    **dict.fromkeys(
        HOLDING_BLENDER,
        (*CORE, *PROOF, "underglass_headless", *HOLDING_BLENDER, "underglass.blender_versions", "underglass.stage"),
    ),
}

BLENDER_MODULES = {"bpy", "bpy_extras", "bmesh", "mathutils", "gpu", "gpu_extras", "blf", "addon_utils"}
ROOMS_WITH_BLENDER = {
    "underglass.blender_versions",
    "underglass.stage",
    "underglass.stage.prove_here",
    "underglass.stage.background_proof",
    "underglass.ui",
    "underglass.registration",
    *HOLDING_BLENDER,
}

# What differs between versions of Blender is asked in one file.
COMPAT = "underglass.blender_versions"
COMPAT_WORDS = {"fcurves", "media_type", "use_nodes"}

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
    """Yield questions about Blender's version, and words that changed between versions, outside of compat."""
    if module.name == COMPAT:
        return
    for node in ast.walk(module.tree):
        word = version_word(node)
        if word:
            yield f"{module.name}:{node.lineno} says {word}: only {COMPAT} knows versions of Blender"


def version_word(node: ast.AST) -> str | None:
    """Return the word in ``node`` that belongs to compat, as an attribute or as a string for getattr and its like."""
    match node:
        case ast.Attribute(attr="version", value=ast.Attribute(attr="app") | ast.Name(id="app")):
            return "app.version"
        case ast.Attribute(attr=word) | ast.Constant(value=str(word)) if word in COMPAT_WORDS:
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


def test_measure_does_not_learn_of_the_plan_through_another_module():
    by_name = {module.name: module for module in modules()}
    reached, waiting = set(), ["underglass.proof.measure.measured_corners"]
    while waiting:
        name = waiting.pop()
        if name not in by_name or name in reached:
            continue
        reached.add(name)
        # a "from" names a module or something in one: both are looked up
        waiting += [part for item in imports(by_name[name]) for part in (item.target, item.target.rpartition(".")[0])]
    assert not {name for name in reached if name.startswith(CORE)}


# -- the laws can fail -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("law", "name", "text"),
    [
        (wrong_arrows, "underglass.shot.model", "from ..plan.model import Plan"),
        (wrong_arrows, "underglass.shot.__init__", "from ..optics import thin_lens"),
        (wrong_arrows, "underglass.optics.light_falloff", "from .. import plan"),
        (wrong_arrows, "underglass.plan.plan_arrays", "def late():\n    from ..stage import build"),
        (wrong_arrows, "underglass.stage.build_stack", "from ..ui.panels import Panel"),
        (wrong_arrows, "underglass.ui.panels", "from ..registration import CLASSES"),
        (wrong_arrows, "underglass.blender_versions", "from .shot import units"),
        (wrong_arrows, "underglass.shot.model", "from ..compat import EEVEE"),
        (wrong_arrows, "underglass.stage.build_stack", "import underglass_headless.proving"),
        (wrong_arrows, "underglass_headless.cli", "from underglass import stage"),
        (wrong_arrows, "underglass_headless.engines.split", "import underglass.blender_versions"),
        (wrong_arrows, "underglass.proof.verdict.judge_levels", "from ..stage import readback"),
        (wrong_arrows, "underglass.plan.plan_arrays", "from ..proof.facts import Proof"),
        (wrong_arrows, "underglass.shot.files.shot_fingerprint", "from ..stage import build"),
        (wrong_arrows, "underglass.stage.build_stack", "from . import background"),
        (wrong_arrows, "underglass.stage.prove_here", "from ..ui import panels"),
        (wrong_arrows, "underglass_headless.cli", "from .proof.worker import main"),
        (wrong_arrows, "underglass_headless.in_blender.worker", "from underglass.ui import panels"),
        (wrong_arrows, "underglass.proof.measure.measured_corners", "from ..plan.model import Plan"),
        (wrong_arrows, "underglass.proof.measure.measured_corners", "from .. import plan"),
        (wrong_blender, "underglass.shot.model", "import bpy"),
        (wrong_blender, "underglass.plan.plan_arrays", "from mathutils import Vector"),
        (wrong_blender, "underglass.optics.light_falloff", "if True:\n    import gpu.state"),
        (wrong_blender, "underglass.proof.verdict.judge_levels", "from bpy_extras import object_utils"),
        (wrong_blender, "underglass.__init__", "import bpy"),
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
        ("underglass.optics.light_falloff", "import math\nimport numpy as np\nfrom ..shot.model import Shot"),
        ("underglass.plan.__init__", "from .model import Plan\nfrom ..optics import thin_lens"),
        ("underglass.stage.build_stack", "import bpy\nfrom .. import compat\nfrom ..plan.model import Plan"),
        ("underglass.blender_versions", "import bpy\nnew = bpy.app.version\ncurves = bpy.data.actions[0].fcurves"),
        ("underglass_headless.cli", "import click\nfrom underglass.plan import plan_arrays\nfrom .proof import judge"),
        (
            "underglass_headless.in_blender.worker",
            "import bpy\nfrom underglass.stage import build_stack\nfrom . import facts",
        ),
        ("underglass.stage.prove_here", "import bpy\nfrom ..proof.verdict import judge_scene\nfrom . import readback"),
        ("underglass.proof.measure.measured_corners", "import numpy as np"),
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
