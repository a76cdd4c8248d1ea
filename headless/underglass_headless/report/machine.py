"""The schema of proof.json, ``proof.schema.json`` beside this module; `underglass.proof.record` has the contents."""

import json
from importlib import resources
from typing import Any


def proof_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of proof.json."""
    text = resources.files(__package__).joinpath("proof.schema.json").read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema
