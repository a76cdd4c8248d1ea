# SPDX-License-Identifier: GPL-3.0-or-later
"""Whatever is done to delivered frames is caught and named, or tolerated, as a table says with why.

``python3 tests/run.py --suite altered`` tries every kind with both engines; with UNDERGLASS_FAULTS=quick one in twenty,
with Cycles alone.
"""

import shutil
from collections.abc import Iterable
from pathlib import Path

import pytest

from altered import colours, dialects, files, holes, levels, metadata, wholes
from altered.conftest import QUICK, SAMPLES, Clean
from altered.delivery import ALL, Delivery
from altered.judging import BROKE, GOOD, Outcome, outcome_of, refused, table
from altered.kinds import ERROR, Caught, Kind
from delivered.conftest import judged
from underglass.proof.proof_facts import PASS
from underglass.shot import UnderglassError
from underglass_headless.report.fault_codes import CODES

pytestmark = [pytest.mark.altered, pytest.mark.bpy, pytest.mark.render, pytest.mark.timeout(3600)]

EVERY = 20 if QUICK else 1
FAMILIES = (holes, wholes, colours, files, dialects, metadata, levels)
KINDS = [kind for family in FAMILIES for kind in family.kinds()]
TRIED = [(kind, engine) for kind in KINDS for engine in kind.engines if engine in SAMPLES][::EVERY]
# What was promised, and no kind may be there twice.
LEAST_KINDS = 250


def test_there_are_as_many_kinds_as_were_promised_and_each_is_there_once() -> None:
    assert len({kind.label for kind in KINDS}) >= LEAST_KINDS
    tried = [(kind.label, engine) for kind in KINDS for engine in kind.engines]
    assert len(tried) == len(set(tried))


def test_every_code_that_is_awaited_exists() -> None:
    awaited = {code for kind in KINDS if isinstance(kind.expected, Caught) for code in kind.expected.codes}
    assert awaited - set(CODES) == {ERROR}


@pytest.mark.parametrize("engine", list(SAMPLES))
def test_the_clean_delivery_passes_without_a_word(engine: str, clean: Clean) -> None:
    proof = judged(clean.shot, clean.frames[engine], tolerance_px=levels.TOLERANCE_PX)
    assert (proof.verdict, proof.faults) == (PASS, ())
    assert {m.frame for m in proof.measurements} == set(ALL)


@pytest.mark.parametrize(("kind", "engine"), TRIED, ids=lambda part: part.label if isinstance(part, Kind) else part)
def test_an_alteration_is_caught_and_named_or_tolerated(
    kind: Kind, engine: str, clean: Clean, tmp_path: Path, ended: list[Outcome]
) -> None:
    outcome = tried(kind, engine, clean, tmp_path / "frames")
    shutil.rmtree(tmp_path / "frames", ignore_errors=True)
    ended.append(outcome)
    assert outcome.outcome in GOOD, outcome.line


def test_the_table_of_all_kinds(ended: list[Outcome]) -> None:
    told(ended)
    assert len(ended) == len(TRIED)


def tried(kind: Kind, engine: str, clean: Clean, folder: Path) -> Outcome:
    """Return how one kind of alteration of the clean frames of an engine ends."""
    shutil.copytree(clean.frames[engine], folder)
    kind.alter(Delivery(folder, clean.frames[engine], engine))
    try:
        proof = judged(clean.shot, folder, tolerance_px=levels.TOLERANCE_PX)
    except UnderglassError as error:
        return refused(kind, engine, error)
    except Exception as error:  # whatever it is, the others are still to be tried
        return Outcome(kind, engine, BROKE, f"{type(error).__name__}: {error}")
    return outcome_of(kind, engine, proof)


def told(ended: Iterable[Outcome]) -> None:
    """Print how all ended, and what of them was wrong."""
    ended = list(ended)
    print("\n" + table(ended) + "\n\n" + "\n".join(one.line for one in ended if one.outcome not in GOOD))
