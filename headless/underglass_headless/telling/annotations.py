# SPDX-License-Identifier: GPL-3.0-or-later
"""What a workflow of GitHub Actions is told, in the form of its documentation, "Workflow commands"; and what it is not.

A runner takes commands from any line of a log, so that names could give it some.
"""

import os
from collections.abc import Iterator

from underglass.proof.proof_facts import BLOCK, PASS, Proof
from underglass.proof.wording import plain


def is_here() -> bool:
    """Return whether this run is a step of a workflow."""
    return os.environ.get("GITHUB_ACTIONS") == "true"


def annotations(proof: Proof) -> Iterator[str]:
    """Yield a command for each fault, one for a proof that passes."""
    title = proof.plan.shot.title
    for fault in proof.faults:
        yield annotation("error" if fault.severity == BLOCK else "notice", f"{title}: {fault.code}", fault.message)
    if proof.verdict == PASS:
        yield annotation("notice", title, "the proof passes")
    elif not any(fault.severity == BLOCK for fault in proof.faults):
        yield annotation("error", title, "the proof fails by its measurements")


def annotation(kind: str, title: str, message: str) -> str:
    """Return the command that notes ``message``; ``kind`` is "error" or "notice"."""
    return f"::{kind} title={_property(plain(title))}::{_data(plain(message))}"


def no_command(line: str) -> str:
    """Return a line of a log that is no command, neither in today's form nor in the older one (``##[error]``)."""
    line = line.replace("##[", "# #[")
    return f". {line}" if line.lstrip().startswith("::") else line


def _data(text: str) -> str:
    return text.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _property(text: str) -> str:
    return _data(text).replace(":", "%3A").replace(",", "%2C")
