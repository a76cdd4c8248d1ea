# SPDX-License-Identifier: GPL-3.0-or-later
"""Pixels that are not as the rest: a few of them change nothing, all are counted, and what is no accident is found."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

import small_shots
from proof.measure.test_measured_corners import FRAME_PX, Pass, error_of, photographed, square_on
from small_shots import Glass
from underglass.optics.projection import pixel_centres
from underglass.proof.measure.measured_corners import Fit, Rounding, fit_level
from underglass.proof.measure.passes import KNOWN_SCATTER_PX
from underglass.proof.proof_facts import PASS, Proof

PLACE = square_on(90, centre=(5, -3), turn=0.3)


def known(made: Pass) -> Fit:
    """Return the fit where the datum told where every sample lies."""
    x, y = pixel_centres(FRAME_PX)
    fit = fit_level(made.u, v=made.v, hit=made.hit, x=x, y=y[:, None], sample_px=1e-5, scatter_px=KNOWN_SCATTER_PX)
    assert fit is not None
    return fit


def changed(made: Pass, where: np.ndarray, **channels: np.ndarray | float) -> Pass:
    """Return the pass with other numbers in the pixels ``where``, indices among those that were hit."""
    rows, columns = np.nonzero(made.hit)
    copies = {name: getattr(made, name).copy() for name in ("u", "v", "hit")}
    for name, values in channels.items():
        copies[name][rows[where], columns[where]] = values
    return replace(made, **copies)


CLEAN = photographed(PLACE)
HITS = int(CLEAN.hit.sum())


def test_clean_pixels_have_nothing_odd() -> None:
    fit = known(CLEAN)
    assert (fit.strange, fit.doubled, fit.missing) == (0, 0, 0)
    assert fit.worst_px < 1e-4


@given(st.lists(st.integers(0, HITS - 1), min_size=1, max_size=40, unique=True))
def test_rays_that_met_both_triangles_of_a_glass_are_set_aside(where: list[int]) -> None:
    """Where a pixel's centre lies on the seam, mark and coordinates are doubled."""
    at = np.array(where)
    rows, columns = np.nonzero(CLEAN.hit)
    twice = {name: 2 * getattr(CLEAN, name)[rows[at], columns[at]] for name in ("u", "v", "hit")}
    fit = known(changed(CLEAN, at, **twice))
    assert fit.doubled == len(where)
    assert (fit.strange, fit.missing) == (0, 0)
    assert error_of(fit, PLACE) <= fit.uncertainty_px < 1.5 * known(CLEAN).uncertainty_px
    assert not fit.tilted


@given(
    st.lists(st.integers(0, HITS - 1), min_size=1, max_size=HITS // 200, unique=True),
    st.floats(-1e6, 1e6).filter(lambda value: abs(value) > 2),
)
@example(where=[38, 100, 326, 1156, 3240], wrong=176230.0)
def test_any_few_wrong_pixels_are_found_counted_and_change_nothing(where: list[int], wrong: float) -> None:
    fit = known(changed(CLEAN, np.array(where), u=wrong))
    assert fit.strange == len(where)
    assert fit.strange_px > 90
    assert error_of(fit, PLACE) <= fit.uncertainty_px < 1.5 * known(CLEAN).uncertainty_px


def test_two_surfaces_in_different_places_are_no_seam() -> None:
    """A second piece of the level, a sixth of it away: marks are 2, and the middle of both is the place of neither."""
    rows, columns = np.nonzero(CLEAN.hit)
    at = np.arange(0, HITS, 40)
    twice = {name: 2 * getattr(CLEAN, name)[rows[at], columns[at]] for name in ("v", "hit")}
    fit = known(changed(CLEAN, at, u=2 * CLEAN.u[rows[at], columns[at]] + 0.3, **twice))
    assert (fit.doubled, fit.strange) == (0, len(at))
    assert fit.strange_px == pytest.approx(0.15 * 90, rel=1e-3)


def test_a_tenth_of_the_pixels_is_no_accident_and_is_not_set_aside() -> None:
    fit = known(changed(CLEAN, np.arange(0, HITS, 10), u=0.5))
    assert fit.strange == 0
    assert fit.worst_px > 10
    assert fit.uncertainty_px > 0.5


@pytest.mark.parametrize("by_px", [0.06, 0.4, 5.0])
def test_a_patch_that_bulges_is_told_by_its_farthest_pixel(by_px: float) -> None:
    x, y = np.meshgrid(*pixel_centres(FRAME_PX))
    bulge = by_px * np.clip(1 - np.hypot(x, y) / 20, 0, None)
    fit = known(photographed(PLACE, off=(-bulge, 0.0)))
    assert max(fit.worst_px, fit.strange_px) == pytest.approx(by_px, rel=0.5)


@given(st.lists(st.integers(0, HITS - 1), min_size=1, max_size=60, unique=True))
def test_a_hole_is_counted_to_the_pixel(where: list[int]) -> None:
    at = np.array(where)
    rows, columns = (index[at] for index in np.nonzero(CLEAN.hit))
    inside = known(changed(CLEAN, at[:0]))
    assert inside.missing == 0
    x, y = pixel_centres(FRAME_PX)
    art = np.linalg.inv(PLACE) @ np.stack([x[columns], y[rows], np.ones(len(at))])
    # a pixel that all but touches the edge may be on either side of it
    clear = (np.minimum(art[:2], 1 - art[:2]) * np.array([[90.0], [67.5]])).min(axis=0)
    fit = known(changed(CLEAN, at, hit=0.0))
    assert (clear > 0.1).sum() <= fit.missing <= len(where)


def test_a_level_that_is_seen_twice_all_over_is_measured_and_said_to_be() -> None:
    rows, columns = np.nonzero(CLEAN.hit)
    at = np.arange(HITS)
    twice = {name: 2 * getattr(CLEAN, name)[rows, columns] for name in ("u", "v", "hit")}
    fit = known(changed(CLEAN, at, **twice))
    assert fit.doubled == HITS
    assert error_of(fit, PLACE) <= fit.uncertainty_px


def test_where_the_datum_tells_nothing_no_pixel_counts() -> None:
    x, y = (side.copy() for side in np.meshgrid(*pixel_centres(FRAME_PX)))
    x[:, ::2] = np.nan
    fit = fit_level(CLEAN.u, v=CLEAN.v, hit=CLEAN.hit, x=x, y=y)
    assert fit is not None
    assert fit.pixels < 0.6 * HITS
    assert fit.missing == 0
    assert fit_level(CLEAN.u, v=CLEAN.v, hit=CLEAN.hit, x=np.full_like(x, np.nan), y=y) is None


def test_the_rounding_of_places_grows_with_the_distance_from_the_axis() -> None:
    x, y = pixel_centres(FRAME_PX)
    options = {"x": x, "y": y[:, None], "sample_px": 0.0, "scatter_px": KNOWN_SCATTER_PX}
    bare = fit_level(CLEAN.u, v=CLEAN.v, hit=CLEAN.hit, **options)
    with_it = fit_level(CLEAN.u, v=CLEAN.v, hit=CLEAN.hit, roundings=(Rounding(0.01, 1e-3),), **options)
    assert bare is not None
    assert with_it is not None
    farthest = float(np.linalg.norm(with_it.corners, axis=1).max())
    # JCGM 100, 4.3.7: a half-width a stands for a standard uncertainty of a/√3; two directions, k = 2.
    half = 0.01 + 1e-3 * farthest
    assert with_it.uncertainty_px == pytest.approx(np.hypot(bare.uncertainty_px, 2 * np.sqrt(2 / 3) * half), rel=1e-6)


@pytest.mark.bpy
@pytest.mark.render
@pytest.mark.parametrize("more", [11, 25])
def test_a_glass_of_which_a_ray_meets_the_seam_passes(
    more: int, tmp_path: Path, proof_of: Callable[..., Proof]
) -> None:
    """In these stacks, found among forty, one sample of one of the glasses meets both of its triangles."""
    glasses = [
        Glass(f"glass {i}", 1100.0 - 20 * i, width=130.0 + i, turn=round(7.3 * i + 1.37 * more + 1, 2))
        for i in range(24)
    ]
    proof = proof_of(small_shots.stack(tmp_path, glasses, frames=(1, 2)), frames=(1,), step=1)
    assert (proof.verdict, proof.faults) == (PASS, ())
    seen = [m for m in proof.measurements if m.error_px is not None]
    assert max(m.error_px + m.uncertainty_px for m in seen) < 0.003
    assert all(m.missing == m.strange == 0 for m in seen)
    assert sum(m.doubled for m in seen), "no seam was met: nothing was tested"
