# SPDX-License-Identifier: GPL-3.0-or-later
"""An oracle that is not installed: a reason to skip on a desk, a failure where everything was installed."""

import pytest

ABSENT = "a_program_that_nobody_wrote"


def test_on_a_desk_a_test_without_its_oracle_is_skipped(oracle, monkeypatch):
    monkeypatch.delenv("UNDERGLASS_ORACLES_REQUIRED", raising=False)
    with pytest.raises(pytest.skip.Exception, match=ABSENT):
        oracle(ABSENT)


def test_where_everything_was_installed_a_missing_oracle_fails(oracle, monkeypatch):
    monkeypatch.setenv("UNDERGLASS_ORACLES_REQUIRED", "1")
    with pytest.raises(pytest.fail.Exception, match=f"oracle is missing: .*{ABSENT}"):
        oracle(ABSENT)


def test_an_oracle_that_is_there_is_handed_over(oracle, monkeypatch):
    monkeypatch.setenv("UNDERGLASS_ORACLES_REQUIRED", "1")
    assert oracle("json").loads("[1]") == [1]
