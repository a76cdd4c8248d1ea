# SPDX-License-Identifier: GPL-3.0-or-later
"""Whatever is in a file or a message, its reader takes it or refuses it in one line: no traceback, no wait of more than
5 s, no 2 GB of memory. A slice of the inputs is tried by default, all of them with the suite ``soak``.
"""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from hostile.fuzzing import Tally, fuzz, table
from hostile.readers import READERS, Reader

QUICK = 25


@pytest.mark.parametrize("reader", READERS, ids=lambda reader: reader.name.replace(" ", "-"))
def test_some_spoilt_inputs_are_read_or_refused(reader: Reader, tmp_path: Path, seed: int) -> None:
    tally = fuzz(reader, count=QUICK, seed=seed, folder=tmp_path)
    assert not tally.faults, "\n".join(tally.faults[:3])
    assert tally.inputs == QUICK
    assert tally.refused or reader.name == "note in a frame"


@pytest.mark.soak
@pytest.mark.timeout(3600)
def test_a_hundred_thousand_spoilt_inputs_are_read_or_refused(tmp_path: Path, seed: int) -> None:
    def run(reader: Reader) -> Tally:
        return fuzz(reader, count=round(1000 * reader.share), seed=seed, folder=tmp_path / reader.name)

    with ThreadPoolExecutor(2) as both:
        tallies = list(both.map(run, sorted(READERS, key=lambda reader: -reader.share)))
    print(f"\n{table(tallies)}")
    faults = [fault for tally in tallies for fault in tally.faults]
    assert not faults, "\n".join(faults[:10])
    assert sum(tally.inputs for tally in tallies) >= 100_000
