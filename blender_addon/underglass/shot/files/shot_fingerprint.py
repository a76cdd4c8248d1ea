# SPDX-License-Identifier: GPL-3.0-or-later
"""The fingerprint of a shot: what a .blend was built from, so that a later change of the shot's files is noticed."""

import hashlib
from dataclasses import replace

from .. import Shot
from ..model import Stand
from . import chart_csv, drawings_csv, schedule_csv, shot_toml


def fingerprint(shot: Shot) -> str:
    """Return 16 hexadecimal digits that change whenever anything changes that decides how a picture looks.

    Counters and limits of the stand, what is expected of the plan and how serious a finding is are no part of it.
    """
    shown = replace(shot, stand=Stand(), expectations=(), rulings=())
    # shots without a chart keep the fingerprint that they had before there were charts
    charts = (chart_csv(shown),) if shown.chart.columns else ()
    text = "\0".join((shot_toml(shown), schedule_csv(shown), *charts, drawings_csv(shown)))
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]
