# SPDX-License-Identifier: GPL-3.0-or-later
"""A proof as tests ask for one: quick, without pictures, in a folder of its own."""

from collections.abc import Callable
from pathlib import Path

import pytest

from underglass.proof.proof_facts import Proof
from underglass_headless.proving.prove_shot import Options, prove


@pytest.fixture
def proof_of(tmp_path: Path) -> Callable[..., Proof]:
    """Return a function that proves a shot; keywords are those of `Options`."""

    def run(shot_file: Path, **options: object) -> Proof:
        folder = tmp_path / "work"
        return prove(shot_file, options=Options(**{"pictures": False, **options}), folder=folder, tell=lambda *_: None)

    return run
