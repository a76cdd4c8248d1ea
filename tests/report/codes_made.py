# SPDX-License-Identifier: GPL-3.0-or-later
"""Which codes the sources can make: what is handed to ``Fault`` as its code, followed back to where it is written.

Goes by the source's tree, so that a fault that no test ever makes is found too. An expression that cannot be followed
is an error, never passed over: write the code so that it can be read, or teach this module.
"""

import ast
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product
from pathlib import Path, PurePath

from underglass.proof.audit.render_settings import WANTED
from underglass.proof.diagnose.deviation_shapes import Shape

ROOT = Path(__file__).resolve().parents[2]
FOLDERS = (ROOT / "blender_addon", ROOT / "headless")
FUNCTIONS = (ast.FunctionDef, ast.AsyncFunctionDef)
# the rooms that make faults
OF_PROOF = ("/proof/", "/delivered/")
Function = ast.FunctionDef | ast.AsyncFunctionDef


class UnreadableError(Exception):
    """A code is written in a way that cannot be followed."""


@dataclass
class Module:
    """One source, its tree and which node each of its nodes lies in."""

    name: str
    text: str
    up: dict[ast.AST, ast.AST] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.tree = ast.parse(self.text)
        for node in ast.walk(self.tree):
            self.up.update(dict.fromkeys(ast.iter_child_nodes(node), node))

    def around(self, node: ast.AST) -> Iterator[ast.AST]:
        """Yield what ``node`` lies in, the nearest first."""
        while node in self.up:
            node = self.up[node]
            yield node

    def functions(self, node: ast.AST) -> Iterator[Function]:
        """Yield the functions that ``node`` lies in, the innermost first; not those whose decorators it is in."""
        return (outer for outer in self.around(node) if isinstance(outer, FUNCTIONS))

    @cached_property
    def imported(self) -> set[tuple[str, str]]:
        """The names that are brought in from other modules, with the last part of the module's name."""
        return {
            ((node.module or "").rpartition(".")[2], alias.name)
            for node in ast.walk(self.tree)
            if isinstance(node, ast.ImportFrom)
            for alias in node.names
        }

    @cached_property
    def calls(self) -> dict[str, list[ast.Call]]:
        """The calls by the name of what is called."""
        found: dict[str, list[ast.Call]] = {}
        for node in ast.walk(self.tree):
            if isinstance(node, ast.Call):
                found.setdefault(_called(node), []).append(node)
        return found


@dataclass(frozen=True)
class Sources:
    """All modules, by their path."""

    modules: dict[str, Module]

    @classmethod
    def of_project(cls) -> "Sources":
        """Return the sources as they are."""
        files = [file for folder in FOLDERS for file in sorted(folder.rglob("*.py"))]
        return cls.of({str(file.relative_to(ROOT)): file.read_text(encoding="utf-8") for file in files})

    @classmethod
    def of(cls, texts: dict[str, str]) -> "Sources":
        """Return sources with these texts by name."""
        return cls({name: Module(name, text) for name, text in texts.items()})

    def changed(self, name: str, text: str) -> "Sources":
        """Return the sources with one module written anew, or added."""
        return Sources(self.modules | {name: Module(name, text)})

    def codes(self) -> dict[str, set[str]]:
        """Return every code that a fault can have, with the places where it is made, file:line."""
        found: dict[str, set[str]] = {}
        for module in self.modules.values():
            for call in module.calls.get("Fault", []):
                for code in self._argument(module, call, "code", 0):
                    found.setdefault(code, set()).add(f"{module.name}:{call.lineno}")
            for call in module.calls.get("replace", []):
                # A code may be changed afterwards too; findings of the desk have codes of their own.
                if is_of_proof(module.name) and any(word.arg == "code" for word in call.keywords):
                    for code in self._argument(module, call, "code", 99):
                        found.setdefault(code, set()).add(f"{module.name}:{call.lineno}")
        return found

    def of_junit(self) -> set[str]:
        """Return the types of failure that the JUnit report writes by itself."""
        (module,) = (one for name, one in self.modules.items() if name.endswith("report/junit.py"))
        kinds = [call.args[1] for call in module.calls["_failure"]]
        return {kind.value for kind in kinds if isinstance(kind, ast.Constant)}

    def _argument(self, module: Module, call: ast.Call, name: str, position: int) -> set[str]:
        """Return the texts that a call's argument can be."""
        for keyword in call.keywords:
            if keyword.arg == name:
                return self.texts(module, keyword.value)
        if any(isinstance(arg, ast.Starred) for arg in call.args) or any(word.arg is None for word in call.keywords):
            raise UnreadableError(f"{module.name}:{call.lineno}: arguments of {_called(call)} are unpacked")
        return self.texts(module, call.args[position]) if position < len(call.args) else set()

    def texts(self, module: Module, node: ast.expr) -> set[str]:
        """Return the texts that an expression can be; raises UnreadableError."""
        family = FAMILIES.get(ast.dump(node))
        if family is not None:
            return family(self)
        match node:
            case ast.Constant(value=str(text)):
                return {text}
            case ast.IfExp(body=one, orelse=other):
                return self.texts(module, one) | self.texts(module, other)
            case ast.Tuple(elts=parts) | ast.List(elts=parts) | ast.Set(elts=parts):
                return {text for part in parts for text in self.texts(module, part)}
            case ast.JoinedStr(values=parts):
                return {"".join(texts) for texts in product(*(self.texts(module, part) for part in parts))}
            case ast.FormattedValue(value=value, conversion=-1, format_spec=None):
                return self.texts(module, value)
            case ast.Name(id=name):
                return self._of_name(module, node, name)
            case ast.Attribute(attr=name):
                found = self._of_field(name)
                if found:
                    return found
            case ast.Call():
                found = self._returned(module, node)
                if found:
                    return found
        raise UnreadableError(f"{module.name}:{node.lineno}: a code is {ast.unparse(node)}, which cannot be followed")

    def _of_name(self, module: Module, node: ast.expr, name: str) -> set[str]:
        """Return the texts that a name can be: a parameter, or what is put into it in its function or its module."""
        for function in module.functions(node):
            if name in _parameters(function):
                return self._handed_over(module, function, name)
            values = list(_put_into(function, name))
            if values:
                return {text for value in values for text in self.texts(module, value)}
        values = list(_put_into(module.tree, name))
        if not values:
            raise UnreadableError(f"{module.name}:{node.lineno}: nothing tells what code {name} is")
        return {text for value in values for text in self.texts(module, value)}

    def _of_field(self, name: str) -> set[str]:
        """Return the texts that a field of one of a proof's own values is given, wherever one is made or replaced."""
        found: set[str] = set()
        proof = [module for path, module in self.modules.items() if is_of_proof(path)]
        for home in proof:
            for kind in (node for node in home.tree.body if isinstance(node, ast.ClassDef)):
                fields = [part.target.id for part in kind.body if isinstance(part, ast.AnnAssign)]
                if name not in fields:
                    continue
                for module in proof:
                    for call in (*module.calls.get(kind.name, []), *module.calls.get("replace", [])):
                        position = fields.index(name) if _called(call) == kind.name else len(call.args)
                        if _called(call) == kind.name or any(word.arg == name for word in call.keywords):
                            found |= self._argument(module, call, name, position)
        # A field without a code is empty.
        return found - {""}

    def _returned(self, module: Module, call: ast.Call) -> set[str]:
        """Return the texts that a function of the same module returns."""
        functions = [node for node in ast.walk(module.tree) if isinstance(node, FUNCTIONS)]
        return {
            text
            for function in functions
            if function.name == _called(call)
            for node in ast.walk(function)
            if isinstance(node, ast.Return) and node.value is not None
            for text in self.texts(module, node.value)
        }

    def _handed_over(self, home: Module, function: Function, name: str) -> set[str]:
        """Return the texts that a parameter of a function is given, wherever the function is called."""
        names = _parameters(function)
        position = names.index(name) - (names[0] == "self")
        found: set[str] = set()
        for module in self.modules.values():
            if module is home or (PurePath(home.name).stem, function.name) in module.imported:
                for call in module.calls.get(function.name, []):
                    found |= self._argument(module, call, name, position)
        spec = function.args
        defaults = dict(zip(reversed([*spec.posonlyargs, *spec.args]), reversed(spec.defaults), strict=False))
        defaults |= {arg: value for arg, value in zip(spec.kwonlyargs, spec.kw_defaults, strict=True) if value}
        return found.union(*(self.texts(home, value) for arg, value in defaults.items() if arg.arg == name))


def is_of_proof(path: str) -> bool:
    return any(room in path for room in OF_PROOF)


def _called(call: ast.Call) -> str:
    match call.func:
        case ast.Name(id=name) | ast.Attribute(attr=name):
            return name
    return ""


def _parameters(function: Function) -> list[str]:
    spec = function.args
    return [arg.arg for arg in (*spec.posonlyargs, *spec.args, *spec.kwonlyargs)]


def _put_into(scope: ast.AST, name: str) -> Iterator[ast.expr]:
    """Yield what ``name`` is set to in a function or module, or what it runs through there."""
    for node in ast.walk(scope):
        match node:
            case ast.Assign(targets=[ast.Name(id=found)], value=value) if found == name:
                yield value
            case ast.AnnAssign(target=ast.Name(id=found), value=ast.expr() as value) if found == name:
                yield value
            case ast.For(target=ast.Name(id=found), iter=value) if found == name:
                yield value


# -- codes that are put together: each family by the expression that makes it ------------------------------------------


def axis_names(sources: Sources) -> set[str]:
    """Return the names of the axes that a proof reads a scene by."""
    module = sources.modules["blender_addon/underglass/proof/diagnose/stand_axes.py"]
    return {name for call in module.calls["Axis"] for name in sources.texts(module, call.args[0])}


def _of_axes(sources: Sources) -> set[str]:
    """Return every axis with every shape that it can be off in."""
    return {
        f"{name.replace('_', '-')}-{shape.value}"
        for name in axis_names(sources)
        for shape in (Shape if name in MOVING else STILL_SHAPES)
    }


def _of_pulls(sources: Sources) -> set[str]:
    """Return a code for each kind of pull that is read of a scene: the first word of what is said of it."""
    module = sources.modules["blender_addon/underglass/stage/read_scene.py"]
    (function,) = (node for node in module.tree.body if isinstance(node, ast.FunctionDef) and node.name == "_pulls")
    said = [node.values[0] for node in ast.walk(function) if isinstance(node, ast.JoinedStr)]
    return {f"has-{first.value.split()[0].lower()}" for first in said if isinstance(first, ast.Constant)}


def _of_settings(sources: Sources) -> set[str]:
    return {f"setting-{key.replace('_', '-')}" for key in WANTED}


# Axes that a schedule moves, or that follow what it moves; the plan has all others at one value all through a shot,
# where a deviation is an offset or it strays. A test holds both against plans in which everything moves.
MOVING = {"height", "east", "north", "turn", "lens"}
STILL_SHAPES = (Shape.OFFSET, Shape.STRAYS)

FAMILIES: dict[str, Callable[[Sources], set[str]]] = {
    ast.dump(ast.parse(expression, mode="eval").body): family
    for expression, family in {
        "f\"{axis.name.replace('_', '-')}-{deviation.shape.value}\"": _of_axes,
        'f"has-{pull.split()[0].lower()}"': _of_pulls,
        "f\"setting-{key.replace('_', '-')}\"": _of_settings,
    }.items()
}
