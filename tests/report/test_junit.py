# SPDX-License-Identifier: GPL-3.0-or-later
"""The JUnit report: valid for the strictest reader, true to the proof, whatever levels are called."""

from dataclasses import replace
from datetime import datetime
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from report import synthetic
from underglass.proof.proof_facts import FAIL, PASS
from underglass_headless.report.junit import junit_xml

WHEN = datetime(2026, 3, 9, 14, 5, 6, 789)


def parsed(text: str) -> ElementTree.Element:
    return ElementTree.fromstring(text.encode())


def keeps_the_ant_schema(root: ElementTree.Element) -> None:
    """Check what JUnit.xsd of Windy Road Technology (after Apache Ant's JUnit task, 2011) asks of a document."""
    assert root.tag == "testsuites"
    for number, suite in enumerate(root):
        assert suite.tag == "testsuite"
        needed = {"name", "timestamp", "hostname", "tests", "failures", "errors", "time", "package", "id"}
        assert needed <= set(suite.attrib) <= needed | {"skipped"}
        assert suite.get("id") == str(number)
        assert all(suite.get(key) for key in ("name", "hostname"))
        datetime.strptime(suite.get("timestamp", ""), "%Y-%m-%dT%H:%M:%S")
        assert float(suite.get("time", "")) >= 0
        tags = [part.tag for part in suite]
        cases = tags.count("testcase")
        assert tags == ["properties", *["testcase"] * cases, "system-out", "system-err"]
        assert all(part.tag == "property" and set(part.attrib) == {"name", "value"} for part in suite[0])
        for case in suite.findall("testcase"):
            assert set(case.attrib) == {"name", "classname", "time"}
            assert [part.tag for part in case] in ([], ["skipped"], ["failure"])
            # a token has no blanks at its ends, no runs of them, and no breaks of line
            assert all(part.get("type") for part in case.findall("failure"))


def counts(root: ElementTree.Element) -> tuple[int, int]:
    return tuple(sum(int(suite.get(key, "")) for suite in root) for key in ("tests", "failures"))  # type: ignore[return-value]


def test_a_suite_a_frame_and_a_case_a_level() -> None:
    proof = synthetic.passing()
    root = parsed(junit_xml(proof, when=WHEN))
    keeps_the_ant_schema(root)
    suites = {suite.get("name"): suite for suite in root}
    assert set(suites) == {"shot", *(f"frame {frame}" for frame in proof.rendered_frames)}
    for frame in proof.rendered_frames:
        names = [case.get("name") for case in suites[f"frame {frame}"].findall("testcase")]
        assert names == list(proof.plan.names)
    assert counts(root)[1] == 0
    assert root[0].get("timestamp") == "2026-03-09T14:05:06"


def test_a_proof_that_fails_has_failures_that_say_what_the_faults_say() -> None:
    proof = synthetic.failing()
    assert proof.verdict == FAIL
    root = parsed(junit_xml(proof, when=WHEN))
    keeps_the_ant_schema(root)
    told = {part.get("message") for part in root.iter("failure")}
    assert {fault.message for fault in proof.faults if fault.severity == "block"} <= told
    failed = [one for one in proof.measurements if one.verdict != PASS]
    in_frames = [part for suite in root[1:] for part in suite.iter("failure")]
    assert len(in_frames) == len(failed)


def test_faults_of_one_kind_on_several_frames_are_cases_of_several_names() -> None:
    fault = replace(synthetic.failing().faults[0], code="frame-missing", subject="frames", severity="block")
    faults = (replace(fault, frames=(2, 2), message="frame 2 is missing"), replace(fault, frames=(4, 5)))
    root = parsed(junit_xml(replace(synthetic.failing(), faults=faults), when=WHEN))
    keeps_the_ant_schema(root)
    names = [case.get("name") for case in root[0].findall("testcase")]
    assert names == ["frame-missing: frame 2", "frame-missing: frames 4 to 5"]


def test_the_same_is_read_by_another_reader(oracle) -> None:
    # junitparser: a library of other people's for these files
    junitparser = oracle("junitparser")
    proof = synthetic.failing()
    text = junit_xml(proof, when=WHEN)
    read = junitparser.JUnitXml.fromstring(text.encode())
    read.update_statistics()
    assert (read.tests, read.failures) == counts(parsed(text))
    cases = {(suite.name, case.name) for suite in read for case in suite}
    assert {(f"frame {one.frame}", one.level) for one in proof.measurements} <= cases


@given(st.lists(st.text(min_size=1, max_size=40), min_size=5, max_size=5))
@pytest.mark.filterwarnings("error")
def test_any_name_makes_a_valid_document(names: list[str]) -> None:
    proof = synthetic.passing(tuple(names))
    keeps_the_ant_schema(parsed(junit_xml(proof, when=WHEN)))


def test_hostile_names_stay_names() -> None:
    names = ("]]>", "<failure/>", "a\x00\x1b[31m\u202eb", "\ud800", "&quot;" + "x" * 300)
    text = junit_xml(synthetic.passing(names), when=WHEN)
    root = parsed(text)
    keeps_the_ant_schema(root)
    assert counts(root)[1] == 0
    assert "\x1b" not in text
    assert "\u202e" not in text
