# SPDX-License-Identifier: GPL-3.0-or-later
"""A proof as JUnit XML: a suite a frame, a case a level, and one suite more for what is of no one frame.

It keeps to what the schema of Apache Ant's JUnit task asks for (JUnit.xsd, Windy Road Technology, 2011), the strictest
of those in use, so that it goes into whatever reads JUnit.
"""

import re
from datetime import datetime
from xml.etree import ElementTree

from underglass.proof.proof_facts import BLOCK, FAIL, Measurement, Proof
from underglass.proof.wording import give_or_take, plain, span

# What no XML 1.0 document may hold (W3C, section 2.2, Char).
_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_EPOCH = "1970-01-01T00:00:00"


def junit_xml(proof: Proof, *, when: datetime | None = None) -> str:
    """Return ``proof`` as the text of a JUnit file; ``when`` it was made, local time."""
    stamp = when.replace(microsecond=0, tzinfo=None).isoformat() if when else _EPOCH
    root = ElementTree.Element("testsuites")
    _Suite(root, proof, "shot", stamp).of_shot()
    by_frame: dict[int, list[Measurement]] = {}
    for measurement in proof.measurements:
        by_frame.setdefault(measurement.frame, []).append(measurement)
    for frame, measurements in sorted(by_frame.items()):
        _Suite(root, proof, f"frame {frame}", stamp).of_frame(measurements)
    ElementTree.indent(root)
    body = ElementTree.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'


class _Suite:
    """One suite in the making; its counts are set when its cases are in."""

    def __init__(self, root: ElementTree.Element, proof: Proof, name: str, stamp: str) -> None:
        self.proof, self.name = proof, name
        number = len(root)
        self.element = ElementTree.SubElement(root, "testsuite", name=name, package="underglass", id=str(number))
        self.element.set("timestamp", stamp)
        # A proof names no machine, and a report of it neither.
        self.element.set("hostname", "localhost")
        said = ElementTree.SubElement(self.element, "properties")
        facts = {
            "title": proof.plan.shot.title,
            "blender": proof.blender,
            "engine": proof.engine,
            "tolerance_px": f"{proof.tolerance_px:g}",
        }
        for key, value in facts.items():
            ElementTree.SubElement(said, "property", name=key, value=_xml(value))

    def of_shot(self) -> None:
        """Have a case for each fault that fails the proof, one for all other frames of the scene, and the notes."""
        wrong = [fault for fault in self.proof.faults if fault.severity == BLOCK]
        for fault in wrong:
            # Readers tell cases apart by their names, and there may be a fault a frame.
            about = span(fault.frames) if fault.subject == "frames" else fault.subject
            self._failure(self._case(f"{fault.code}: {about}"), fault.code, fault.message, span(fault.frames))
        if not wrong:
            case = self._case("nothing is wrong with the shot")
            if self.proof.verdict == FAIL:
                self._failure(case, "fails", "the proof fails by its measurements", "")
        notes = [_xml(fault.message) for fault in self.proof.faults if fault.severity != BLOCK]
        self._end("\n".join(notes), self.proof.seconds.get("all", 0.0))

    def of_frame(self, measurements: list[Measurement]) -> None:
        """Have a case for each level; one that is not to be seen, as planned, is skipped."""
        for one in measurements:
            case = self._case(one.level)
            if one.verdict == FAIL:
                self._failure(case, "out-of-place", _sentence(one), _numbers(one))
            elif not one.seen:
                ElementTree.SubElement(case, "skipped", message=_xml(one.remark or "it is not in the frame"))
        self._end("", 0.0)

    def _case(self, name: str) -> ElementTree.Element:
        return ElementTree.SubElement(self.element, "testcase", name=_xml(name), classname=self.name, time="0")

    def _failure(self, case: ElementTree.Element, kind: str, message: str, text: str) -> None:
        failure = ElementTree.SubElement(case, "failure", type=_xml(kind), message=_xml(message))
        failure.text = text

    def _end(self, out: str, seconds: float) -> None:
        cases = self.element.findall("testcase")
        counts = {
            "tests": len(cases),
            "failures": sum(case.find("failure") is not None for case in cases),
            "errors": 0,
            "skipped": sum(case.find("skipped") is not None for case in cases),
        }
        for key, count in counts.items():
            self.element.set(key, str(count))
        self.element.set("time", f"{seconds:.3f}")
        ElementTree.SubElement(self.element, "system-out").text = out
        ElementTree.SubElement(self.element, "system-err").text = ""


def _sentence(one: Measurement) -> str:
    if one.error_px is None:
        return f"{one.level}: {one.remark or 'it was not measured'}"
    more = f" ({one.remark})" if one.remark else ""
    return f"{one.level} is {give_or_take(one.error_px, one.uncertainty_px)} out of place on frame {one.frame}{more}"


def _numbers(one: Measurement) -> str:
    looks = (("planned", one.planned), ("measured", one.measured))
    return "\n".join(
        f"{word}: size {look.size_px:.4f} px, x {look.x:.4f}, y {look.y:.4f}, turn {look.turn:.4f}°"
        for word, look in looks
        if look is not None
    )


def _xml(text: str) -> str:
    """Return ``text`` on one line, without what XML may not hold or what steers a terminal."""
    return _NO_XML.sub("\N{WHITE SQUARE}", plain(text))
