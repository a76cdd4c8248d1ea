# SPDX-License-Identifier: GPL-3.0-or-later
"""A frame of a proof, rendered by Cycles and read by other people: OpenImageIO, OpenCV and scikit-image."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pytest

from shot_strategies import make_shot_art
from underglass.optics.projection import pixel_centres
from underglass.plan import corners_px, make_plan
from underglass.proof.measure.measured_corners import fit_level
from underglass.shot import Camera, Focus, Gate, Level, Projection, Shot
from underglass.shot.files import read_shot, write_shot
from underglass_headless.exr.read_exr import read_channels, read_passes

Oracle = Callable[[str], ModuleType]

pytestmark = pytest.mark.render

FRAME_PX = (240, 180)
# Two ways to fit the same pixels; they differ by what each of them minimises.
SAME_FIT_PX = 1e-4

SCRIPT = """
import sys
from pathlib import Path
import bpy
from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass.stage import build_stack, proof_passes

folder = Path(sys.argv[1])
bpy.ops.wm.read_homefile(use_factory_startup=True, use_empty=True)
scene = bpy.context.scene
build_stack.build(make_plan(read_shot(folder / "shot.toml")), scene)
proof_passes.quiet(scene, threads=2)
with proof_passes.passes(scene) as levels:
    scene.frame_set(1)
    (batch,) = levels.batches(8)
    batch.select()
    scene.render.filepath = str(folder / "uv.exr")
    bpy.ops.render.render(write_still=True)
    answer(list(batch.names))
"""


@dataclass(frozen=True)
class Frame:
    """A rendered frame of a proof: its file, the names of its passes, and where the plan has every corner."""

    file: Path
    names: list[str]
    planned: np.ndarray


@pytest.fixture(scope="module")
def frame(run_in_blender: Callable[..., Any], tmp_path_factory: pytest.TempPathFactory) -> Frame:
    """Render one frame: a small turned level, one that leaves the frame, one that fills it."""
    folder = tmp_path_factory.mktemp("frame")
    levels = (
        Level("small", "small.png", 0.05, 0.9, (40, 30), 0.02, 0.03, 0.4),
        Level("leaving", "leaving.png", 0.16, 0.6, (40, 20), -0.12, -0.07, -2.0),
        Level("filling", "filling.png", 0.7, 0.1, (40, 30), 0.01, -0.02),
    )
    camera = Camera(Projection.PERSPECTIVE, FRAME_PX, 1.3, Gate(0.022, 0.0165), 0.05, 8.0, Focus("small"))
    shot = Shot("frame", "mm", 24.0, (1, 1), camera, levels)
    make_shot_art(shot, folder)
    write_shot(shot, folder)
    names = run_in_blender(SCRIPT, folder)
    return Frame(folder / "uv.exr", names, corners_px(make_plan(read_shot(folder / "shot.toml")))[0])


def test_openimageio_reads_the_same_channels(frame: Frame, oracle: Oracle) -> None:
    oiio = oracle("OpenImageIO")
    file = oiio.ImageInput.open(str(frame.file))
    seen = {}
    part = 0
    while file.seek_subimage(part, 0):
        spec = file.spec()
        pixels = file.read_image(part, 0, 0, spec.nchannels, "float")
        for index, channel in enumerate(spec.channelnames):
            seen[channel] = pixels[..., index]
        part += 1
    file.close()
    ours = read_channels(frame.file)
    assert set(seen) == set(ours)
    assert len(ours) >= 3 * len(frame.names)
    for name, channel in ours.items():
        assert channel.shape == FRAME_PX[::-1]
        np.testing.assert_array_equal(channel, seen[name], err_msg=name)


@dataclass(frozen=True)
class Pixels:
    """The pixels of one level: their centres from the frame's centre and the texture coordinates in them, (N, 2)."""

    places: np.ndarray
    uv: np.ndarray


def pixels_of(frame: Frame, column: int) -> tuple[Pixels, np.ndarray]:
    """Return the pixels of a level and where our own fit has its corners."""
    u, v, hit = read_passes(frame.file, frame.names)[frame.names[column]]
    columns_x, rows_y = pixel_centres(FRAME_PX)
    fit = fit_level(u, v=v, hit=hit, x=columns_x, y=rows_y[:, None])
    assert fit is not None
    rows, columns = np.nonzero(hit > 0.5)
    uv = np.column_stack([u[rows, columns], v[rows, columns]]).astype(float)
    return Pixels(np.column_stack([columns_x[columns], rows_y[rows]]), uv), fit.corners


# Art is not square, so its texture is brought to its real shape before a similarity is looked for.
SHAPES = [(1.0, 30 / 40), (1.0, 20 / 40), (1.0, 30 / 40)]
COLUMNS = [0, 1, 2]


@pytest.mark.parametrize("column", COLUMNS)
def test_the_plan_and_the_fit_agree_on_the_rendered_frame(frame: Frame, column: int) -> None:
    _, corners = pixels_of(frame, column)
    assert np.abs(corners - frame.planned[column]).max() < 0.01


@pytest.mark.parametrize("column", COLUMNS)
def test_scikit_image_finds_the_same_corners(frame: Frame, column: int, oracle: Oracle) -> None:
    transform = oracle("skimage.transform")
    pixels, corners = pixels_of(frame, column)
    art = pixels.uv * SHAPES[column]
    if hasattr(transform.SimilarityTransform, "from_estimate"):
        found = transform.SimilarityTransform.from_estimate(art, pixels.places)
    else:
        found = transform.SimilarityTransform()
        assert found.estimate(art, pixels.places)
    square = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * SHAPES[column]
    np.testing.assert_allclose(corners, found(square), atol=SAME_FIT_PX)


@pytest.mark.parametrize("column", COLUMNS)
def test_opencv_finds_the_same_corners(frame: Frame, column: int, oracle: Oracle) -> None:
    cv2 = oracle("cv2")
    pixels, corners = pixels_of(frame, column)
    art = pixels.uv * SHAPES[column]
    found, inliers = cv2.estimateAffinePartial2D(art, pixels.places, ransacReprojThreshold=1.0, refineIters=50)
    assert inliers.all()
    square = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * SHAPES[column]
    np.testing.assert_allclose(corners, square @ found[:, :2].T + found[:, 2], atol=SAME_FIT_PX)
