# SPDX-License-Identifier: GPL-3.0-or-later
"""The words that code says to people: its texts that are no docstring, and those of the templates of pages."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

# What stands in for a value that is put into a text.
VALUE = "X"


def texts_of(source: str) -> Iterator[str]:
    """Yield the texts of a module in which words stand: no docstrings, no code, values as ``X``."""
    tree = ast.parse(source)
    left = _docstrings(tree) | _inside_others(tree)
    for node in ast.walk(tree):
        if id(node) in left:
            continue
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and _is_said(node.value):
            yield " ".join(node.value.split())
        elif isinstance(node, ast.JoinedStr):
            parts = [part.value if isinstance(part, ast.Constant) else VALUE for part in node.values]
            if _is_said(text := "".join(parts)):
                yield " ".join(text.split())


def texts_of_template(source: str) -> Iterator[str]:
    """Yield the texts between the elements of a page's template, values as ``X``."""
    page = re.sub(r"\{%.*?%\}|\{#.*?#\}", "", source, flags=re.DOTALL)
    page = re.sub(r"\{\{.*?\}\}", VALUE, page, flags=re.DOTALL)
    page = re.sub(r"<(style|script)\b.*?</\1>", "", page, flags=re.DOTALL)
    # elements that only mark words do not end a text
    page = re.sub(r"</?(?:b|bdi|em|strong|code|i|a|abbr|span)\b[^>]*>", "", page)
    yield from (flat for text in re.split(r"<[^>]+>", page) if (flat := " ".join(text.split())))


def said_in(folder: Path) -> Iterator[tuple[str, str]]:
    """Yield the file and text of all that is said in ``folder``."""
    for file in sorted(folder.rglob("*")):
        if file.suffix == ".py":
            yield from ((file.name, text) for text in texts_of(file.read_text(encoding="utf-8")))
        elif file.name.endswith(".html.jinja"):
            yield from ((file.name, text) for text in texts_of_template(file.read_text(encoding="utf-8")))


def _docstrings(tree: ast.AST) -> set[int]:
    bodies = [
        node.body
        for node in ast.walk(tree)
        if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef))
    ]
    return {id(body[0].value) for body in bodies if body and isinstance(body[0], ast.Expr)}


def _inside_others(tree: ast.AST) -> set[int]:
    """Return what stands inside an f-string, which is read as one text."""
    return {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.JoinedStr)
        for inner in ast.walk(node)
        if inner is not node
    }


def _is_said(text: str) -> bool:
    """Tell whether people read ``text``: it has words, and is neither a script nor a piece of a drawing."""
    return " " in text.strip() and "import " not in text and not text.lstrip().startswith("<")
