# SPDX-License-Identifier: GPL-3.0-or-later
"""Kinds of edits that artists make in Blender by hand, each a function on the line-up that is open.

SAVED come back from the files as they are; REFUSED are what no shot can say, with a word of the reason.
"""

import math

import bpy

from ui import extension

live = extension.part("ui.live_stack")
compat = extension.part("blender_versions")


def glass(name):
    return live.glass_of(bpy.context.scene, name)


def stand_camera():
    return extension.part("stage.stack_marks").stand_camera(bpy.context.scene)


def key(obj, path, index, places):
    for frame, value in places:
        getattr(obj, path)[index] = value
        obj.keyframe_insert(path, index=index, frame=frame)


def curve_of(obj, path, index=0):
    return next(curve for curve in compat.fcurves_of(obj) if (curve.data_path, curve.array_index) == (path, index))


def lens():
    return bpy.context.scene.underglass_lens


def nothing_at_all():
    pass


def the_world_and_other_things():
    scene = bpy.context.scene
    scene.world = bpy.data.worlds.new("mine")
    scene.collection.objects.link(bpy.data.objects.new("a note", None))
    scene.cycles.samples = 7


def a_still_level_dragged_up():
    glass("card D").location[2] += 0.0254


def a_still_level_dragged_sideways():
    glass("heron").location[0] += 0.003
    glass("heron").location[1] -= 0.0017


def a_level_turned_and_scaled():
    glass("card C").rotation_euler[2] = 0.3
    glass("card C").scale = (1.1, 1.1, 1.0)


def a_level_turned_round_and_more():
    key(glass("heron"), "rotation_euler", 2, [(2, 0.0), (20, 3 * math.pi)])


def all_keys_of_an_axis_moved():
    curve = curve_of(glass("card A"), "location", 0)
    for point in curve.keyframe_points:
        point.co[1] += 0.004
    curve.update()


def two_keys_with_the_ease_of_blender():
    key(glass("heron"), "location", 0, [(3, 0.02), (19, 0.055)])


def an_ease_with_its_handles_drawn_out():
    key(glass("heron"), "location", 0, [(3, 0.02), (23, 0.055)])
    curve = curve_of(glass("heron"), "location", 0)
    first, last = curve.keyframe_points
    first.handle_right_type = last.handle_left_type = "FREE"
    first.handle_right = (first.co[0] + 12.5, first.co[1])
    last.handle_left = (last.co[0] - 2.0, last.co[1])
    curve.update()


def three_keys_passed_on_the_way():
    key(glass("heron"), "location", 0, [(3, 0.02), (11, 0.03), (20, 0.055)])


def keys_that_hold_and_jump():
    key(glass("heron"), "location", 1, [(4, 0.02), (9, 0.03), (15, 0.01)])
    for point in curve_of(glass("heron"), "location", 1).keyframe_points:
        point.interpolation = "CONSTANT"


def keys_in_straight_lines():
    key(glass("heron"), "location", 1, [(4, 0.02), (12, 0.036)])
    for point in curve_of(glass("heron"), "location", 1).keyframe_points:
        point.interpolation = "LINEAR"


def keys_that_overshoot():
    key(glass("heron"), "location", 0, [(3, 0.02), (18, 0.05)])
    for point in curve_of(glass("heron"), "location", 0).keyframe_points:
        point.interpolation = "BACK"


def a_height_that_goes_and_comes_back():
    key(glass("heron"), "location", 2, [(1, 0.85), (13, 0.87), (25, 0.85)])


def the_truck_goes_and_comes_back():
    for index in (2,):
        compat.remove_fcurves(stand_camera(), ("location",), index=index)
    key(stand_camera(), "location", 2, [(1, 1.3), (13, 1.25), (25, 1.3)])


def the_truck_goes_farther():
    curve = curve_of(stand_camera(), "location", 2)
    for point in curve.keyframe_points:
        point.co[1] = 1.3 - (1.3 - point.co[1]) * 1.25
    curve.update()


def a_curve_that_is_muted():
    curve_of(glass("card A"), "location", 0).mute = True


def a_curve_with_noise_on_it():
    noise = curve_of(glass("card A"), "location", 0).modifiers.new("NOISE")
    noise.strength, noise.scale = 0.004, 7.0


def the_keys_of_a_level_taken_away():
    glass("card A").animation_data_clear()


def another_action_in_place_of_its_own():
    obj = glass("card A")
    obj.animation_data.action = None
    key(obj, "location", 0, [(2, -0.01), (22, 0.02)])


def an_action_pushed_down_to_the_nla():
    obj = glass("card A")
    anim = obj.animation_data
    action, slot = anim.action, getattr(anim, "action_slot", None)
    strip = anim.nla_tracks.new().strips.new("pushed", int(action.frame_range[0]), action)
    if slot is not None:
        strip.action_slot = slot
    anim.action = None


def a_parent_that_moves():
    pull = bpy.data.objects.new("slider", None)
    bpy.context.scene.collection.objects.link(pull)
    key(pull, "location", 0, [(1, 0.01), (25, 0.03)])
    glass("card D").parent = pull


def a_parent_for_the_camera():
    pull = bpy.data.objects.new("head", None)
    bpy.context.scene.collection.objects.link(pull)
    key(pull, "location", 1, [(1, 0.0), (25, 0.02)])
    stand_camera().parent = pull


def a_driver_on_a_level():
    driver = glass("card D").driver_add("location", 0).driver
    driver.type, driver.expression = "SCRIPTED", "frame * 0.0005"


def a_constraint_on_a_level():
    follow = glass("heron").constraints.new("COPY_LOCATION")
    follow.target, follow.use_z, follow.use_y, follow.use_offset = glass("card A"), False, False, True


def a_delta_on_a_level():
    glass("card C").delta_location = (0.002, -0.001, 0.003)


def a_level_in_quaternions():
    glass("card C").rotation_mode = "QUATERNION"
    glass("card C").rotation_quaternion = (math.cos(0.1), 0.0, 0.0, math.sin(0.1))


def a_modifier_that_changes_no_shape():
    glass("card D").modifiers.new("finer", "SUBSURF").subdivision_type = "SIMPLE"


def levels_that_change_places():
    a, b = glass("heron"), glass("card B")
    a.location[2], b.location[2] = b.location[2], a.location[2]


def the_focused_level_moved():
    glass("card B").location[2] += 0.02


def a_level_deleted():
    bpy.data.objects.remove(glass("heron"))


def two_levels_deleted():
    bpy.data.objects.remove(glass("heron"))
    bpy.data.objects.remove(glass("card A"))


def a_shorter_range():
    bpy.context.scene.frame_start, bpy.context.scene.frame_end = 4, 18


def a_longer_range():
    bpy.context.scene.frame_end = 40


def another_range_and_the_moves_shifted_along():
    bpy.context.scene.frame_start, bpy.context.scene.frame_end = 101, 125
    bpy.ops.underglass.shift_moves()


def another_rate():
    bpy.context.scene.render.fps = 25


def another_size_of_frame():
    scene = bpy.context.scene
    scene.render.resolution_x, scene.render.resolution_y = 800, 600


def another_camera_looked_through():
    scene = bpy.context.scene
    mine = bpy.data.objects.new("mine", bpy.data.cameras.new("mine"))
    scene.collection.objects.link(mine)
    mine.location, mine.rotation_euler = (0.5, -1.0, 2.0), (0.5, 0.1, 0.0)
    scene.camera = mine


def a_marker_that_cuts_to_another_camera():
    another_camera_looked_through()
    scene = bpy.context.scene
    marker = scene.timeline_markers.new("cut", frame=10)
    marker.camera, scene.camera = scene.camera, stand_camera()


def a_copy_of_the_camera():
    copy = stand_camera().copy()
    bpy.context.scene.collection.objects.link(copy)
    copy.location[0] += 1.0


def another_name_for_an_object():
    glass("card C").name = "the barn, second try"


def a_level_hidden():
    glass("card C").hide_set(True)
    glass("card A").hide_viewport = True


def a_level_in_a_collection_that_is_left_out():
    scene, obj = bpy.context.scene, glass("card C")
    away = bpy.data.collections.new("away")
    scene.collection.children.link(away)
    for collection in obj.users_collection:
        collection.objects.unlink(obj)
    away.objects.link(obj)
    bpy.context.view_layer.layer_collection.children["away"].exclude = True


def a_lens_made_longer_by_hand():
    curve = curve_of(stand_camera().data, "lens")
    for point in curve.keyframe_points:
        point.co[1] *= 1.2
    curve.update()


def a_lens_that_zooms_by_hand():
    data = stand_camera().data
    compat.remove_fcurves(data, ("lens",))
    for frame, value in ((1, 54.0), (25, 80.0)):
        data.lens = value
        data.keyframe_insert("lens", frame=frame)


def thirty_five_millimetres_typed():
    lens().focal_mm = 35.0


def a_lens_typed_and_the_focused_level_moved():
    lens().focal_mm = 35.0
    glass("card B").location[2] += 0.03


def focus_put_on_another_level():
    lens().focus = "card A"


def focus_put_at_a_distance():
    lens().focus = lens_fields().AT_A_DISTANCE
    lens().distance = 640.0


def lens_fields():
    return extension.part("ui.lens_fields")


def focus_put_at_infinity():
    lens().focus = lens_fields().AT_INFINITY


def focus_on_an_object_as_blender_has_it():
    stand_camera().data.dof.focus_object = glass("card C")


def a_stop_typed():
    lens().f_stop = 11.0


def sharpness_everywhere():
    stand_camera().data.dof.use_dof = False


def another_gate_typed():
    lens().gate_mm = (22.0, 16.5)


def the_size_of_a_level_held():
    glass("card D").location[2] = 0.25
    bpy.ops.underglass.hold_size(level="card D")


def the_size_of_a_level_held_on_the_last_frame():
    bpy.context.scene.frame_set(25)
    glass("card D").location[2] = 0.25
    bpy.context.view_layer.update()
    bpy.ops.underglass.hold_size(level="card D")


def drawings_on_other_frames():
    curve = curve_of(glass("heron"), '["drawing"]')
    for point in curve.keyframe_points:
        if point.co[0] > 1:
            point.co[0] += 2
    curve.update()


def a_drag_that_nobody_keyed():
    bpy.context.scene.frame_set(7)
    glass("card A").location[0] += 0.01


# -- what no shot can say ----------------------------------------------------------------------------------------------


def levels_that_cross_on_the_way():
    key(glass("heron"), "location", 2, [(1, 0.85), (25, 0.5)])


def a_level_above_the_lens():
    glass("card A").location[2] = 1.25


def a_level_beneath_the_bed():
    glass("card D").location[2] = -0.01


def a_tilted_level():
    glass("card A").rotation_euler[0] = 0.1


def a_level_leaning_on_one_frame():
    key(glass("card A"), "rotation_euler", 1, [(10, 0.0), (11, 0.1), (12, 0.0)])


def a_tilted_camera():
    stand_camera().rotation_euler[0] = 0.05


def a_shifted_lens():
    stand_camera().data.shift_x = 0.1


def a_stretched_level():
    glass("card A").scale = (1.2, 1.0, 1.0)


def a_scale_that_is_keyed():
    key(glass("card A"), "scale", 0, [(1, 1.0), (25, 1.2)])
    key(glass("card A"), "scale", 1, [(1, 1.0), (25, 1.2)])


def a_mirrored_level():
    glass("card A").scale[0] = -1.0


def a_level_scaled_to_nothing():
    glass("card A").scale = (0.0, 0.0, 0.0)


def a_level_copied():
    bpy.context.scene.collection.objects.link(glass("card A").copy())


def the_focused_level_deleted():
    bpy.data.objects.remove(glass("card B"))


def the_camera_deleted():
    bpy.data.objects.remove(stand_camera())


def another_camera_in_place_of_the_stands():
    mine = bpy.data.objects.new("mine", bpy.data.cameras.new("mine"))
    bpy.context.scene.collection.objects.link(mine)
    bpy.data.objects.remove(stand_camera())
    bpy.context.scene.camera = mine


def a_camera_without_perspective():
    stand_camera().data.type = "ORTHO"


def another_range_far_off():
    bpy.context.scene.frame_start, bpy.context.scene.frame_end = 101, 148


def every_level_deleted():
    for name in ("card A", "heron", "card B", "card C", "card D"):
        bpy.data.objects.remove(glass(name))


def focus_keyed_by_hand():
    data = stand_camera().data
    compat.remove_fcurves(data, ("dof.focus_distance",))
    for frame, value in ((1, 0.5), (25, 0.9)):
        data.dof.focus_distance = value
        data.dof.keyframe_insert("focus_distance", frame=frame)


def a_drawing_that_there_is_not():
    curve = curve_of(glass("heron"), '["drawing"]')
    curve.keyframe_points[1].co[1] = 7.0
    curve.update()


SAVED = [
    nothing_at_all,
    the_world_and_other_things,
    a_still_level_dragged_up,
    a_still_level_dragged_sideways,
    a_level_turned_and_scaled,
    a_level_turned_round_and_more,
    all_keys_of_an_axis_moved,
    two_keys_with_the_ease_of_blender,
    an_ease_with_its_handles_drawn_out,
    three_keys_passed_on_the_way,
    keys_that_hold_and_jump,
    keys_in_straight_lines,
    keys_that_overshoot,
    a_height_that_goes_and_comes_back,
    the_truck_goes_and_comes_back,
    the_truck_goes_farther,
    a_curve_that_is_muted,
    a_curve_with_noise_on_it,
    the_keys_of_a_level_taken_away,
    another_action_in_place_of_its_own,
    an_action_pushed_down_to_the_nla,
    a_parent_that_moves,
    a_parent_for_the_camera,
    a_driver_on_a_level,
    a_constraint_on_a_level,
    a_delta_on_a_level,
    a_level_in_quaternions,
    a_modifier_that_changes_no_shape,
    levels_that_change_places,
    the_focused_level_moved,
    a_level_deleted,
    two_levels_deleted,
    a_shorter_range,
    a_longer_range,
    another_range_and_the_moves_shifted_along,
    another_rate,
    another_size_of_frame,
    another_camera_looked_through,
    a_marker_that_cuts_to_another_camera,
    a_copy_of_the_camera,
    another_name_for_an_object,
    a_level_hidden,
    a_level_in_a_collection_that_is_left_out,
    a_lens_made_longer_by_hand,
    a_lens_that_zooms_by_hand,
    thirty_five_millimetres_typed,
    a_lens_typed_and_the_focused_level_moved,
    focus_put_on_another_level,
    focus_put_at_a_distance,
    focus_put_at_infinity,
    focus_on_an_object_as_blender_has_it,
    a_stop_typed,
    sharpness_everywhere,
    another_gate_typed,
    the_size_of_a_level_held,
    the_size_of_a_level_held_on_the_last_frame,
    drawings_on_other_frames,
    a_drag_that_nobody_keyed,
]
REFUSED = {
    levels_that_cross_on_the_way: "meets",
    a_level_above_the_lens: "above the lens",
    a_level_beneath_the_bed: "from 0",
    a_tilted_level: "is tilted",
    a_level_leaning_on_one_frame: "is tilted",
    a_tilted_camera: "is tilted",
    a_shifted_lens: "shifted lens",
    a_stretched_level: "is stretched",
    a_scale_that_is_keyed: "changes its scale",
    a_mirrored_level: "shows its back",
    a_level_scaled_to_nothing: "scaled to nothing",
    a_level_copied: "both are this level",
    the_focused_level_deleted: "focused on 'card B', which was deleted",
    the_camera_deleted: "no camera",
    another_camera_in_place_of_the_stands: "stand's camera is not in the scene",
    a_camera_without_perspective: "another projection",
    another_range_far_off: "leave out camera height 1–25",
    every_level_deleted: "no level of the shot is in the scene",
    focus_keyed_by_hand: "keyed by hand",
    a_drawing_that_there_is_not: "shows drawing 7 on frame 9",
}
# Where the lens follows the focus anew once it is saved: the picture is another than it was edited to be.
LENS_FOLLOWS = {
    levels_that_change_places,
    the_focused_level_moved,
    the_truck_goes_farther,
    the_truck_goes_and_comes_back,
    a_lens_typed_and_the_focused_level_moved,
    focus_on_an_object_as_blender_has_it,
    a_parent_for_the_camera,
}
