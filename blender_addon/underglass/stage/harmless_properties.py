# SPDX-License-Identifier: GPL-3.0-or-later
"""Properties that may differ from those of a stack that is built afresh, each with the reason why that does no harm.

What is not in these tables is compared, and where it differs it is rendered: a property that nobody thought of is
never passed over. Names are those of Blender's RNA.
"""

import re
from collections.abc import Iterable
from typing import Any

import bpy

# By the type of the owner: a pattern of names, and the reason.
_EVERYWHERE = (
    (
        r"name|name_full|original|is_.*evaluated|tag|use_fake_user|use_extra_user|is_runtime_data|library.*",
        "how a data-block is kept in its file",
    ),
    (r"override_library|asset_data|preview|session_uid|users", "how a data-block is kept in its file"),
    (
        r"animation_data|animation_visualization|motion_path",
        "keys act by the values that they give: these are compared",
    ),
    (r"show_.*|select.*|hide_select|hide_viewport|use_ui_.*", "only the interface shows it"),
)
_SCENE = (
    (
        r"frame_.*|time_jump.*|lock_frame.*|allow_preroll|use_preview_range|sync_mode|playback.*",
        "which frame is open, and how frames are played; the range of the shot is judged by itself",
    ),
    (r"camera|objects|collection|timeline_markers", "which camera and levels there are is judged by itself"),
    (
        r"use_custom_simulation_range|simulation_frame_.*|gravity|use_gravity|rigidbody_world",
        "nothing in a stack falls",
    ),
    (r"keying_sets.*|tool_settings|unit_settings|safe_areas|transform_orientation_slots|cursor", "tools of the artist"),
    (r"use_audio.*|audio_.*", "sound"),
    (
        r"annotation|grease_pencil|grease_pencil_settings|active_clip|hydra|use_stamp_note|uvedit",
        "nothing that is rendered of a stack",
    ),
    (
        r"world",
        "levels shine by themselves; a clear film and no volume let nothing of the world be seen: compared apart",
    ),
    (r"sequence_editor|compositing_node_group|use_nodes|node_tree", "compared apart: what there is of it in use"),
    (r"sequencer_colorspace_settings", "only strips of the sequencer are in it"),
    (r"display", "the settings of Workbench, which is another engine"),
    (r"view_layers", "compared apart: those that are rendered"),
    (r"eevee", "the settings of another engine; where EEVEE renders they are compared"),
    (r"cycles_curves|hydra_.*", "there are no hairs in a stack"),
)
_RENDER = (
    (r"resolution_.*|pixel_aspect_.*|fps.*|frame_map_.*|engine|ppm_.*", "judged by itself"),
    (r"filepath|use_file_extension|use_overwrite|use_placeholder|use_render_cache|save_output", "where files go"),
    (
        r"preview_.*|use_lock_interface|threads.*|use_persistent_data|sequencer_gl_preview|debug.*",
        "how fast it goes, not what it shows",
    ),
    (
        r"use_stamp_.*|stamp_note_text|metadata_input|use_stamp_labels",
        "what is said beside the picture: with Burn Into Image it is compared",
    ),
    (r"stamp_.*", "how what is burnt in looks: only where it is"),
    (r"bake|bake_.*|ffmpeg|use_bake.*", "not of a still picture"),
    (r"views|stereo_views|views_format|stereo_3d_format", "only where two views are rendered"),
    (r"simplify_.*|use_simplify_.*", "only where Simplify is on"),
    (r"hair_.*|use_high_quality_normals|line_thickness.*", "there are no hairs and no lines in a stack"),
    (r"motion_blur_.*", "only where Motion Blur is on"),
    (r"border_.*|use_crop_to_border", "only where Render Region is on"),
    (r"filter_size|anisotropic_filter", "the filter of other engines"),
    (
        r"compositor_.*|use_sequencer_override_scene_strip|use_compositing|use_sequencer",
        "compared apart: what there is of it in use",
    ),
    (r"use_auto_generate_texture_cache|use_texture_cache", "how textures are kept, not what they show"),
    (r"use_multiview|use_single_layer", "judged by itself"),
)
_IMAGE = (
    (
        r"file_format|media_type|use_preview|compression|use_exr_interleave|tiff_codec|views_format|stereo_3d_format",
        "how a file is packed: nothing of the picture is lost",
    ),
    (r"color_depth", "of more or fewer digits for the same values, in the forms that files of a shot have"),
    (r"use_jpeg2k_.*|jpeg2k_codec|use_cineon_log|cineon_.*|quality", "compared where such files are written"),
    (r"view_settings|display_settings|linear_colorspace_settings", "only where Color Management is set to Override"),
    (r"has_linear_colorspace", "worked out by Blender"),
)
_CYCLES = (
    (r"name", "not a setting"),
    (r"preview_.*|use_preview_.*|debug_.*|feature_set|device|bake_type", "the viewport, or how fast it goes"),
    (r"shading_system", "no material of a stack is a script: materials are compared"),
    (r"denoiser|denoising_.*", "only where Denoise is on"),
    (
        r"use_light_tree|light_sampling_threshold|direct_light_sampling_type|caustics_.*|blur_glossy",
        "no lamp lights a level",
    ),
    (r".*guiding.*|fast_gi_method|ao_bounces.*|use_fast_gi", "no lamp lights a level"),
    (
        r"max_bounces|diffuse_bounces|glossy_bounces|transmission_bounces|volume_bounces|min_light_bounces",
        "no light bounces off a level",
    ),
    (r"volume_.*", "only where there is a volume, which is compared apart"),
    (r"dicing_.*|max_subdivisions|offscreen_dicing_scale", "no level is subdivided as it is rendered"),
    (r"sample_clamp_indirect|film_transparent_glass|film_transparent_roughness", "no level is of glass"),
    (r"rolling_shutter_.*", "only with Motion Blur"),
    (r"use_auto_tile|tile_size|texture_resolution.*|auto_scrambling_distance", "how fast it goes"),
    (
        r"texture_limit.*|use_camera_cull|camera_cull_margin|use_distance_cull|distance_cull_margin",
        "only where Simplify is on",
    ),
    (r"transparent_max_bounces", "judged by itself"),
)
_LAYER = (
    (
        r"use_pass_.*|pass_.*|aovs|active_.*|lightgroups.*|objects|layer_collection|depsgraph",
        "passes beside the picture, and what is listed",
    ),
    (r"eevee|use|use_motion_blur|use_ao|use_strand|use_grease_pencil", "of other engines, or judged by itself"),
    (r"freestyle_settings|use_freestyle", "only where Freestyle is on, which is compared"),
    (r"world_override", "as the scene's world: compared apart"),
    (r"use_sky", "a clear film shows no sky"),
)
_LAYER_CYCLES = ((r"name|pass_.*|use_pass_.*|denoising_.*|use_denoising", "passes beside the picture"),)
_OBJECT = (
    (
        r"location|rotation_.*|scale|dimensions|delta_.*|matrix_.*|lock_.*|parent.*|use_parent.*|track_axis|up_axis",
        "where a level is, is read on every frame and measured in its pixels",
    ),
    (r"data|vertex_groups|active_.*|modifiers|constraints|shader_effects|material_slots|pose", "judged by itself"),
    (r"hide_render|visible_camera|is_holdout|instance_.*|use_instance_.*", "judged by itself"),
    (
        r"hide_.*|display.*|empty_.*|use_empty_.*|image_user|line.*|use_mesh_mirror_.*|use_camera_lock_parent",
        "only the viewport shows it",
    ),
    (
        r"visible_(diffuse|glossy|transmission|volume_scatter|shadow|raycast)|light_linking|lightgroup|shadow_terminator.*",
        "no lamp lights a level",
    ),
    (
        r"use_grease_pencil_lights|use_shape_key_edit_mode|add_rest_position_attribute|use_simulation_cache",
        "not rendered",
    ),
    (
        r"field|collision|soft_body|rigid_body.*|particle_systems|selection_sets|use_dynamic_topology.*|is_from_.*",
        "judged by what is rendered of it",
    ),
    (r"cycles_curves", "there are no hairs in a stack"),
)
_OBJECT_CYCLES = (
    (r"name|use_motion_blur|use_deform_motion|motion_steps|is_caustics_.*", "nothing moves while a frame is exposed"),
    (r"shadow_terminator.*|ao_distance|use_camera_cull|use_distance_cull", "no lamp lights a level"),
)
_CAMERA = (
    (
        r"type|sensor_.*|lens|lens_unit|angle.*|ortho_scale|shift_.*|clip_.*",
        "what the camera sees is read on every frame and measured in pixels",
    ),
    (r"show_.*|display_size|passepartout_alpha|composition_.*|background_images|stereo", "only the viewport shows it"),
    (
        r"panorama_type|fisheye_.*|latitude_.*|longitude_.*|central_cylindrical_.*|custom_.*|cycles_custom",
        "of cameras that see all around: their type is compared",
    ),
)
_FOCUS = (
    (r"use_dof|focus_.*|aperture_fstop", "judged by itself"),
    (r"aperture_.*", "only with depth of field"),
)
_MATERIAL = (
    (
        r"diffuse_color|specular_.*|roughness|metallic|preview_render_type|use_preview_world",
        "only the viewport shows it",
    ),
    (r"surface_render_method|blend_method|use_backface_culling.*|alpha_threshold|use_transparency_overlap", "of EEVEE"),
    (
        r"show_transparent_back|use_transparent_shadow|use_raytrace_refraction|use_screen_refraction|refraction_depth",
        "of EEVEE",
    ),
    (
        r"use_sss_translucency|thickness_mode|use_thickness_from_shadow|volume_intersection_method|shadow_method",
        "of EEVEE",
    ),
    (
        r"use_nodes|node_tree|texture_paint_.*|paint_.*|grease_pencil|lineart|line_.*|use_.*sss.*",
        "compared apart, or not rendered",
    ),
    (r"max_vertex_displacement|displacement_method", "only where the material displaces its surface: compared apart"),
    (r"pass_index", "a pass beside the picture"),
)
_TABLES = {
    "Scene": _SCENE,
    "RenderSettings": _RENDER,
    "ImageFormatSettings": _IMAGE,
    "CyclesRenderSettings": _CYCLES,
    "ViewLayer": _LAYER,
    "CyclesRenderLayerSettings": _LAYER_CYCLES,
    "Object": _OBJECT,
    "CyclesObjectSettings": _OBJECT_CYCLES,
    "Material": _MATERIAL,
    "Camera": _CAMERA,
    "CameraDOFSettings": _FOCUS,
}
# What makes other noise, and no more or less of it: it is told, and not rendered.
_NOISE = (
    (
        "CyclesRenderSettings",
        re.compile(r"seed|use_animated_seed|sampling_pattern|sample_offset"),
        "which noise a render has, not how much: no frame is nearer to the picture without noise than another",
    ),
)
_COMPILED = {
    owner: [(re.compile(pattern), reason) for pattern, reason in (*rows, *_EVERYWHERE)]
    for owner, rows in (*_TABLES.items(), ("", ()))
}
# Kinds of owners that are never rendered, whatever they hold.
_UNSEEN_OWNERS = {"NodeTreeInterface", "MaterialLineArt", "ObjectDisplay", "ObjectLineArt", "Stereo3dFormat"}


def reason_for(owner: str, key: str) -> str:
    """Return why another value of a property does no harm; empty where it may do some."""
    if owner in _UNSEEN_OWNERS:
        return "only the interface shows it"
    rows = _COMPILED.get(owner, _COMPILED[""])
    return next((reason for pattern, reason in rows if pattern.fullmatch(key)), "")


def makes_noise(owner: str, key: str) -> bool:
    """Return whether another value of a property lets a render have other noise, and no more of it."""
    return any(owner == kind and pattern.fullmatch(key) for kind, pattern, _ in _NOISE)


def left_out(owner: str, key: str, thing: Any) -> bool:
    """Return whether a property of ``thing`` need not be compared, as the settings of it stand."""
    if _in_use(owner, key, thing):
        return False
    return bool(reason_for(owner, key)) or _idle(owner, key, thing) or _of_an_add_on(key, thing)


def _in_use(owner: str, key: str, thing: Any) -> bool:
    """Return whether what is mostly idle counts here."""
    match owner, key:
        case "RenderSettings", "stamp_note_text":
            return bool(thing.use_stamp and thing.use_stamp_note)
        case "RenderSettings", _ if key.startswith(("stamp_", "use_stamp_")):
            return False
        case "RenderSettings", _ if key.startswith("motion_blur_"):
            return bool(thing.use_motion_blur)
        case "CameraDOFSettings", "aperture_blades" | "aperture_rotation" | "aperture_ratio":
            return bool(thing.use_dof)
        case "RenderSettings", _ if key.startswith("border_"):
            return bool(thing.use_border)
        case "RenderSettings", _ if key.startswith(("simplify_", "use_simplify_")):
            return bool(thing.use_simplify) and key.startswith("simplify_subdivision")
        case (("CyclesRenderSettings" | "CyclesObjectSettings"), _) if "_cull" in key:
            return bool(bpy.context.scene.render.use_simplify)
        case "CyclesObjectSettings", "use_motion_blur" | "use_deform_motion" | "motion_steps":
            return bool(bpy.context.scene.render.use_motion_blur)
        case "ImageFormatSettings", "view_settings" | "display_settings":
            return bool(thing.color_management == "OVERRIDE")
        case "ImageFormatSettings", "linear_colorspace_settings":
            return bool(thing.color_management == "OVERRIDE" and thing.file_format in LINEAR_FORMATS)
        case "ImageFormatSettings", "quality":
            return bool(thing.file_format in {"JPEG", "JPEG2000", "WEBP", "AVIF"})
        case "CyclesRenderSettings", _ if key.startswith("denois"):
            return bool(thing.use_denoising) and key in {"denoiser", "denoising_prefilter", "denoising_input_passes"}
    return False


LINEAR_FORMATS = {"OPEN_EXR", "OPEN_EXR_MULTILAYER", "HDR"}
LOSSLESS = {"NONE", "ZIP", "ZIPS", "RLE", "PIZ"}


def _idle(owner: str, key: str, thing: Any) -> bool:
    """Return whether a property does nothing as the settings beside it stand."""
    match owner, key:
        case "ColorManagedViewSettings", "curve_mapping":
            return not thing.use_curve_mapping
        case "ColorManagedViewSettings", _ if key.startswith("white_balance_"):
            # The white point is the same as temperature and tint, said in other numbers.
            return key == "white_balance_whitepoint" or not getattr(thing, "use_white_balance", False)
        case "ColorManagedViewSettings", "is_hdr" | "support_emulation":
            return True
        case "CurveMapping", _ if key.startswith(("use_clip", "clip_")):
            return not thing.use_clip
        case "CurveMapPoint", "select":
            return True
        case "ImageFormatSettings", "exr_codec":
            return thing.file_format not in {"OPEN_EXR", "OPEN_EXR_MULTILAYER"} or thing.exr_codec in LOSSLESS
        case "CyclesRenderSettings", "adaptive_threshold" | "adaptive_min_samples":
            return not thing.use_adaptive_sampling
        case "CyclesRenderSettings", "sample_offset" | "sample_subset_length":
            return not getattr(thing, "use_sample_subset", True)
    return False


def _of_an_add_on(key: str, thing: Any) -> bool:
    """Return whether a property was registered by an add-on other than Cycles: no engine of Blender's reads those."""
    value = getattr(thing, key, None) if thing.bl_rna.properties[key].type == "POINTER" else None
    bases = {base.__name__ for base in type(value).__mro__} if value is not None else set()
    return "PropertyGroup" in bases and key not in {"cycles", "cycles_visibility", "cycles_custom"}


def reasons() -> Iterable[tuple[str, str, str]]:
    """Yield every row of the tables: the owner, the pattern of names, the reason."""
    for owner, rows in (*_TABLES.items(), ("any", _EVERYWHERE)):
        for pattern, reason in rows:
            yield owner, pattern, reason
    for owner, names, reason in _NOISE:
        yield owner, names.pattern, reason
