# SPDX-License-Identifier: GPL-3.0-or-later
"""The settings of a scene's render that decide its frame or its picture, as plain values."""

from typing import Any

import bpy

from .. import blender_versions
from . import other_things


def settings_of(scene: Any) -> dict[str, float | int | str | bool]:
    """Return the settings of ``scene`` by the names that the proof asks for."""
    render = scene.render
    return {
        "frame_start": scene.frame_start,
        "frame_end": scene.frame_end,
        "frame_step": scene.frame_step,
        "fps": render.fps / render.fps_base,
        "width": render.resolution_x,
        "height": render.resolution_y,
        "percentage": render.resolution_percentage,
        "pixel_aspect": render.pixel_aspect_x / render.pixel_aspect_y,
        "border": render.use_border,
        "time_stretch": render.frame_map_new / render.frame_map_old,
        "engine": render.engine,
        "clear_surfaces": scene.cycles.transparent_max_bounces,
        "view_transform": scene.view_settings.view_transform,
        "exposure": scene.view_settings.exposure,
        "gamma": scene.view_settings.gamma,
        "film_exposure": scene.cycles.film_exposure,
        "world_volume": other_things.has_volume(bpy.context.view_layer.world_override or scene.world),
        "motion_blur": render.use_motion_blur,
        "stereo": render.use_multiview,
        "layers_rendered": sum(layer.use for layer in scene.view_layers),
        "layer_rendered": bpy.context.view_layer.use,
        "compositor": render.use_compositing and blender_versions.has_compositor(scene),
        "edited_in_sequencer": render.use_sequencer and blender_versions.has_strips(scene),
    }
