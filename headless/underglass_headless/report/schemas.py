# SPDX-License-Identifier: GPL-3.0-or-later
"""The schemas of what machines read, beside this module: of proof.json, which `underglass.proof.proof_json` makes, and
of the events of a run, which `logs` tells.
"""

import json
from importlib import resources
from typing import Any


def proof_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of proof.json."""
    return _schema("proof.schema.json")


def events_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of one line of events."""
    return _schema("events.schema.json")


def _schema(name: str) -> dict[str, Any]:
    text = resources.files(__package__).joinpath(name).read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema
