# SPDX-License-Identifier: GPL-3.0-or-later
"""The usual cautions about a stand, which head every set of sheets; the README says the same words."""

CAUTIONS = {
    "Glass": "sheets are heavy and have edges that cut; lift with two people and gloves, seat every sheet before"
    " anything moves, discard a chipped one.",
    "Hot lamps": "lamps and housings burn skin and crack cold glass; let both cool, keep paint, cels and film away from"
    " them.",
    "A moving carriage": "keep hands, hair and sleeves out of the column while anything is driven; agree on who calls a"
    " move; know the stop.",
    "Weights overhead": "counterweights and camera carriage hang on cables; nobody stands under them, safety lines stay"
    " on.",
    "Mains current": "earth the stand, keep liquids away, open no housing that is plugged in.",
}
DEFERENCE = "Local codes and the advice of licensed practitioners come before anything written here."
