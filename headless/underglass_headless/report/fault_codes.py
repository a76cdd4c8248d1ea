# SPDX-License-Identifier: GPL-3.0-or-later
"""Codes: every word by which machines know a fault, what it means, what to do about it and by what it is found.

Plain data. What a fault says of one shot is written where the fault is made; what its code means for all shots stands
here, and the schema of proof.json and the table in headless/README.md are made from it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum


class FoundBy(StrEnum):
    """What a fault is found by."""

    SCENE = "scene numbers"
    PASSES = "pixels of own passes"
    FILES = "delivered files"
    PLAN = "plan"


@dataclass(frozen=True)
class Code:
    """One code: its ``meaning`` and its ``remedy`` in whole sentences."""

    code: str
    meaning: str
    remedy: str
    found_by: tuple[FoundBy, ...]


@dataclass(frozen=True)
class ShapeWords:
    """What a shape of a deviation, the end of an axis's code, means: ``{what}`` and ``{where}`` are the axis's."""

    meaning: str
    remedy: str


@dataclass(frozen=True)
class AxisWords:
    """What an axis, the beginning of its codes, is on the stand and ``where`` in Blender it is set.

    An axis that ``moves`` in a shot can be off in every shape; one that never does is offset or strays.
    """

    axis: str
    what: str
    where: str
    found_by: tuple[FoundBy, ...]
    moves: bool

    @property
    def name(self) -> str:
        """How the axis is spelled in its codes."""
        return self.axis.replace("_", "-")

    @property
    def shapes(self) -> tuple[str, ...]:
        """The shapes in which the axis can be off."""
        return tuple(SHAPES) if self.moves else ("offset", "strays")

    @property
    def codes(self) -> tuple[str, ...]:
        """The codes of the axis, one a shape."""
        return tuple(f"{self.name}-{shape}" for shape in self.shapes)


SCENE, PASSES, FILES, PLAN = FoundBy.SCENE, FoundBy.PASSES, FoundBy.FILES, FoundBy.PLAN

SHAPES = {
    "offset": ShapeWords(
        "{what} is wrong by the same amount on every frame.", "Correct {where} on all keys by the amount of the fault."
    ),
    "late": ShapeWords(
        "{what} changes as planned, but some frames too late.",
        "Move the keys of {where} earlier by the number of frames that the fault names.",
    ),
    "early": ShapeWords(
        "{what} changes as planned, but some frames too early.",
        "Move the keys of {where} later by the number of frames that the fault names.",
    ),
    "reversed": ShapeWords(
        "{what} changes in the opposite direction to the plan.",
        "Turn the move of {where} around: its start and end, or its sign, are exchanged.",
    ),
    "still": ShapeWords(
        "{what} stays the same, but a move was planned.", "Add the keys of the planned move to {where}."
    ),
    "too-far": ShapeWords(
        "{what} changes by a wrong factor, too much or too little.",
        "Divide the way of {where} from its first key by the factor that the fault names.",
    ),
    "uneven": ShapeWords(
        "{what} starts and ends as planned, but is wrong in between.",
        "Correct the keys of {where} between the first and the last: frames, easing and law of the move.",
    ),
    "strays": ShapeWords(
        "{what} is wrong in a way that no single mistake explains.",
        "Compare {where} with the position sheets (`underglass sheets`) on the frames that the fault names.",
    ),
}

AXES = (
    AxisWords("height", "The height of a level or of the camera", "location Z", (SCENE, FILES), moves=True),
    AxisWords("east", "The east-west place of a level or of the camera", "location X", (SCENE, FILES), moves=True),
    AxisWords("north", "The north-south place of a level or of the camera", "location Y", (SCENE, FILES), moves=True),
    AxisWords("turn", "The turn of a level or of the camera", "rotation Z", (SCENE, FILES), moves=True),
    AxisWords("width", "The width of a level's art", "the width of the level's plane", (SCENE, FILES), moves=False),
    AxisWords(
        "art_height",
        "The height of a level's art (how tall it is)",
        "the height of the level's plane",
        (SCENE, FILES),
        moves=False,
    ),
    AxisWords(
        "tilt",
        "The tilt of a level or of the camera (how far it is out of square with the bed)",
        "rotation X and Y",
        (SCENE,),
        moves=False,
    ),
    AxisWords(
        "lens",
        "The camera's image distance (its focal length and what focusing adds)",
        "the camera's focal length and sensor size",
        (SCENE, FILES),
        moves=True,
    ),
    AxisWords(
        "field",
        "The width of the field of an orthographic camera",
        "the camera's orthographic scale",
        (SCENE, FILES),
        moves=False,
    ),
    AxisWords(
        "shift_x", "The sideways shift of the camera's lens", "the camera's shift X", (SCENE, FILES), moves=False
    ),
    AxisWords("shift_y", "The upward shift of the camera's lens", "the camera's shift Y", (SCENE, FILES), moves=False),
)

# What else than its own keys can move a level or the camera: what the code says, the words for it, what to do.
PULLS = {
    "parent": ("a parent", "Remove the parent"),
    "constraint": ("a constraint", "Remove or mute the constraint"),
    "modifier": ("a modifier", "Remove the modifier or switch it off in renders"),
    "driver": ("a driver", "Delete or mute the driver"),
    "nla": ("an NLA track", "Delete or mute the NLA track"),
    "mesh": ("a mesh that is no longer the plane as built", "Undo what changed the mesh"),
    "uv": ("a UV map that is not as built", "Choose the UV map as built for rendering, or undo what changed it"),
}


def _one(code: str, meaning: str, remedy: str, *found_by: FoundBy) -> Code:
    return Code(code, meaning, remedy, found_by)


# Apart from axes and pulls, whose codes are made up of parts.
_SINGLE = (
    # --- levels of a scene
    _one(
        "missing",
        "A level of the shot is not in the scene, or its object has lost its mark.",
        "Undo what removed the object or its property `underglass_level`, or build the stack again.",
        SCENE,
    ),
    _one(
        "doubled",
        "A level is in the scene more than once.",
        "Delete the copies of the level's object. For one more level use Duplicate Level in the add-on's panel.",
        SCENE,
    ),
    _one(
        "unknown-level",
        "An object is marked as a level that the shot does not have.",
        "Delete the object, or add the level to the shot file.",
        SCENE,
    ),
    _one(
        "renamed",
        "The object of a level has another name than the level. This does no harm.",
        "Nothing has to be done.",
        SCENE,
    ),
    _one(
        "curve-not-linear",
        "Curves of a level are not straight between keys, are muted or have a modifier, and it is out of place.",
        "Set the keys to linear interpolation, unmute the curve and remove its modifiers, or build the stack again.",
        SCENE,
    ),
    _one(
        "art-missing",
        "A level cannot show its art: the image file is missing, or the material has no image.",
        "Put the image file back, or build the stack again.",
        SCENE,
    ),
    _one(
        "art-differs",
        "A level does not look as it would if it were built now: its image or its material is another one.",
        "Give the level the image that lies with the shot, or build the stack again.",
        SCENE,
    ),
    _one(
        "hidden",
        "A level is hidden from render on some frames or on all.",
        "Let the level's object, its collection and its view layer be rendered, let the camera see it, and switch"
        " holdout off.",
        SCENE,
    ),
    _one(
        "drawing",
        "A level shows another drawing than the exposure sheet says.",
        "Correct the keys of the level's property `drawing`, or the sheet.",
        SCENE,
    ),
    _one(
        "mirrored",
        "A level shows its art from the back: the level is turned over, or its texture is mirrored.",
        "Turn the level back, or set its texture coordinates right.",
        SCENE,
        FILES,
    ),
    _one(
        "order-changed",
        "Two neighbouring levels stand in the wrong order: the lower one covers the upper one.",
        "Put both levels at their planned heights.",
        SCENE,
        FILES,
    ),
    _one(
        "swapped",
        "Two levels have changed places, or only their heights.",
        "Exchange the two levels again.",
        SCENE,
        FILES,
    ),
    _one(
        "corner-moved",
        "One or two corners of a level's plane moved, and the others are in place.",
        "Move the corners back in Edit Mode, or build the stack again.",
        SCENE,
    ),
    _one(
        "clipped",
        "A level is outside the camera's clip distances and is cut away.",
        "Change the camera's clip start and clip end so that all levels are between them.",
        SCENE,
    ),
    # --- the camera
    _one("no-camera", "The scene has no active camera.", "Make the camera that was built the active one.", SCENE),
    _one(
        "other-camera",
        "The active camera is not the one that was built.",
        "Make the camera that was built the active one, if the other was not chosen on purpose.",
        SCENE,
    ),
    _one(
        "marker-camera",
        "A marker on the time line makes another camera film some frames, with another view than the shot's camera.",
        "Unbind the camera from the marker, or delete the marker.",
        SCENE,
    ),
    _one(
        "sensor-size",
        "The camera's sensor has another size than the shot's gate.",
        "Set the camera's sensor width to the gate's (times the squeeze).",
        SCENE,
    ),
    _one(
        "sensor-fit",
        "The camera's sensor is fitted to another side of the frame than it was built with.",
        "Set the camera's Sensor Fit to Horizontal.",
        SCENE,
    ),
    _one(
        "projection",
        "The camera is orthographic where the shot has perspective, or the reverse, on some frames or on all.",
        "Set the camera's type to the projection of the shot.",
        SCENE,
    ),
    _one(
        "no-depth-of-field",
        "The camera has no depth of field, but the shot has an f-stop.",
        "Switch on the camera's depth of field.",
        SCENE,
    ),
    _one(
        "focus",
        "The camera is focused at another distance than the shot says.",
        "Correct the keys of the camera's focus distance, and remove a focus object.",
        SCENE,
    ),
    _one(
        "f-stop",
        "The camera has another f-stop than the shot.",
        "Correct the camera's f-stop: in Blender it is the marked stop times image distance over focal length.",
        SCENE,
    ),
    _one(
        "no-breathing",
        "The camera leaves out focus breathing: its lens stays at one length while focusing should change it.",
        "Set the camera's focal length in Blender to the image distance of each frame, or build the stack again.",
        SCENE,
        FILES,
    ),
    _one(
        "stand-moved",
        "The camera and the levels were moved together. This does not change the picture.",
        "Nothing has to be done.",
        SCENE,
    ),
    # --- the frame, its time and the settings of the render
    _one(
        "frame-size",
        "The frame has another size in pixels than the shot.",
        "Set resolution and percentage as in the shot, and render delivered frames again.",
        SCENE,
        FILES,
    ),
    _one(
        "pixel-aspect",
        "The scene's pixels have another shape than the shot's.",
        "Set the pixel aspect of the scene to the squeeze of the shot's camera.",
        SCENE,
    ),
    _one(
        "border",
        "The render region is on, so only a part of the frame is rendered.",
        "Switch the render region off.",
        SCENE,
    ),
    _one(
        "frame-rate",
        "The scene has another number of frames a second than the shot.",
        "Set the frame rate of the scene as in the shot.",
        SCENE,
    ),
    _one(
        "frame-range",
        "The scene has another first or last frame than the shot.",
        "Set the first and last frame of the scene as in the shot.",
        SCENE,
    ),
    _one(
        "frame-step",
        "The scene leaves out frames: its frame step is not 1.",
        "Set the frame step of the scene to 1.",
        SCENE,
    ),
    _one(
        "time-stretched",
        "The scene stretches time, so keys fall on other frames.",
        "Set the old and the new value of time stretching to the same number.",
        SCENE,
    ),
    _one(
        "light-cut-short",
        "Cycles lets light through fewer clear surfaces than there are levels: what is lower is black.",
        "Raise the transparent bounces of the scene to the number of levels or more.",
        SCENE,
    ),
    _one(
        "layer-off",
        "The view layer with the stack is not rendered.",
        "Let the view layer with the stack be rendered.",
        SCENE,
    ),
    _one(
        "setting-engine",
        "The scene renders with another engine than Cycles, with which it is proved.",
        "Nothing has to be done, if the other engine was chosen on purpose.",
        SCENE,
    ),
    _one(
        "colour-management",
        "Color Management shows the art in other colours: by its view, look, exposure, gamma, curves or white balance.",
        "Set the color management as the fault says that it was built, or build the stack again.",
        SCENE,
    ),
    _one(
        "setting-changed",
        "A setting of the scene, the render, the output or the view layer is not as it was built, and changes pixels.",
        "Set it as the fault says that it was built.",
        SCENE,
    ),
    _one(
        "level-changed",
        "A property of a level's object or material is not as it was built, and changes pixels.",
        "Set it as the fault says that it was built, or build the stack again.",
        SCENE,
    ),
    _one(
        "level-remade",
        "What a level is made of, such as its faces or instances on it, is not as it was built, and changes pixels.",
        "Undo what the fault names, or build the stack again.",
        SCENE,
    ),
    _one(
        "camera-changed",
        "A property of the camera, such as the shape of its aperture, is not as it was built, and changes pixels.",
        "Set it as the fault says that it was built.",
        SCENE,
    ),
    _one(
        "harmless-changes",
        "Some properties are not as they were built, and small pictures show that no pixel changes. This does no harm.",
        "Nothing has to be done.",
        SCENE,
    ),
    _one(
        "script-not-run",
        "A script that is marked to run, or a driver with Python, can change what is rendered. It was not run.",
        "Bake what it does into keys and remove it, or clear its mark (Register).",
        SCENE,
    ),
    _one(
        "setting-film-exposure",
        "The film's exposure is not 1 and changes the art's colours.",
        "Set the exposure of the film to 1.",
        SCENE,
    ),
    _one(
        "setting-world-volume",
        "The world is filled with a volume, which makes far levels darker. Where no pixel changes it is a note.",
        "Remove the volume from the world.",
        SCENE,
    ),
    _one(
        "setting-motion-blur",
        "Motion blur is on, but a stand stands still while a frame is exposed.",
        "Switch motion blur off.",
        SCENE,
    ),
    _one(
        "setting-stereo",
        "The scene renders two views instead of one.",
        "Switch stereoscopy off.",
        SCENE,
    ),
    _one(
        "setting-layers-rendered",
        "The scene does not render exactly one view layer.",
        "Let the view layer with the stack be rendered, and no other.",
        SCENE,
    ),
    _one(
        "setting-compositor",
        "A compositor changes the picture between the stack and the frame.",
        "Switch compositing off in the settings of the render.",
        SCENE,
    ),
    _one(
        "setting-edited-in-sequencer",
        "The strips of the sequencer are rendered instead of the stack.",
        "Switch the sequencer off in the settings of the render.",
        SCENE,
    ),
    # --- what else is in the scene, and where it comes from
    _one(
        "in-the-way",
        "An object that is no level changes the picture: it stands before a level, or shows through clear art.",
        "Move the object away or hide it from render.",
        SCENE,
        PASSES,
        FILES,
    ),
    _one(
        "other-things",
        "The scene also renders objects that are no levels. They are not in the way.",
        "Nothing has to be done.",
        SCENE,
    ),
    _one(
        "exposures-not-built",
        "The shot has exposures (passes, stops or fades). They are neither built nor proved.",
        "Check the exposures by other means.",
        SCENE,
    ),
    _one("linked", "The stack is linked from other Blender files.", "Nothing has to be done.", SCENE),
    _one(
        "scripts-not-run",
        "The scene's file has scripts, or drivers with Python in them. The proof did not run them.",
        "Make sure that the picture does not depend on them.",
        SCENE,
    ),
    _one(
        "built-from-another",
        "The scene was built from another state of the shot's files.",
        "Build the stack again, if the scene has to have the present state.",
        SCENE,
    ),
    # --- what was measured in pixels
    _one(
        "not-seen",
        "A level should be in the picture, but none of its pixels are found.",
        "Look for what hides the level: its visibility, something opaque before it, the transparency of its material.",
        PASSES,
        FILES,
    ),
    _one(
        "cut-off",
        "A part of a level that should be in the picture is not there.",
        "Look for what covers the level or cuts it off: another object, its mesh, a crop of the frame.",
        PASSES,
        FILES,
    ),
    _one(
        "too-coarse",
        "The measurement of a level is too uncertain to prove it within the tolerance.",
        "Allow the tolerance that the fault names, or measure with `--every-pixel`. Deliver frames with proof passes,"
        " as 32-bit EXR, with more samples.",
        PASSES,
        FILES,
    ),
    _one(
        "pixels-differ",
        "A level is out of place in the rendered pixels, although the scene's numbers put it right.",
        "Look at the level's texture coordinates and mesh, or build the stack again.",
        PASSES,
    ),
    _one(
        "out-of-place",
        "A level is out of place, or not seen, and no other fault explains it. In junit.xml it is also the type of"
        " every level that fails on a frame.",
        "Correct the largest deviation of the level and the camera first, or build the stack again.",
        SCENE,
        PASSES,
        FILES,
    ),
    _one(
        "off-grid",
        "The rendered picture does not lie on the pixel grid: it is shifted, cropped, scaled or sheared.",
        "Look for what changes the picture after the camera: a render region, overscan, a scale, an add-on.",
        PASSES,
    ),
    _one(
        "no-datum",
        "The camera's clip distances leave no room for the datum, a triangle of known coordinates that the proof fixes"
        " to the camera. Levels are then measured less finely.",
        "Give the camera clip distances that are farther apart.",
        PASSES,
    ),
    _one(
        "two-surfaces",
        "A level lies twice before the lens: more pixels than by chance met two surfaces of it.",
        "Delete the second surface: a copy of the object, a second face in its mesh, or a modifier that adds one.",
        PASSES,
    ),
    _one(
        "strange-pixels",
        "More pixels of a level than by chance hold coordinates that do not fit the rest.",
        "Make the level's mesh one flat plane with its own texture coordinates, or build the stack again. Of delivered"
        " frames, copy the file again first.",
        PASSES,
        FILES,
    ),
    _one(
        "not-flat",
        "A level is bent or distorted: its pixels do not fit one flat plane.",
        "Put back the corners or points of the level's mesh that were moved, or build the stack again.",
        PASSES,
    ),
    # --- delivered frames
    _one(
        "not-proved",
        "Nothing in the delivered frames tells where a level is, or where all levels are.",
        "Render a scene that was built with `--proof-passes`, with Cycles, to EXR with ZIP or PIZ compression.",
        FILES,
    ),
    _one(
        "only-scene-tells",
        "On every delivered frame too little of a level shows to tell its place, however the frames are rendered.",
        "Prove the scene itself with `underglass prove --scene`, or allow a larger tolerance.",
        FILES,
    ),
    _one("frame-missing", "A frame of the shot was not delivered.", "Render the frame, or deliver it.", FILES),
    _one(
        "frame-beyond",
        "A frame was delivered that the shot does not have.",
        "Nothing has to be done.",
        FILES,
    ),
    _one(
        "frame-doubled",
        "A frame was delivered more than once, for example as `0012.exr` and `12.exr`.",
        "Keep the right file and remove the other.",
        FILES,
    ),
    _one(
        "frame-cut-short",
        "A file cannot be read whole: it is empty, cut short or damaged.",
        "Copy the file again, or render the frame again.",
        FILES,
    ),
    _one(
        "frame-refused",
        "A file is there, but cannot be judged. It has deep pixels, luminance and chroma, more pixels than the machine"
        " can hold, or control characters in its name. Or it is a folder, a link to nothing, no EXR file by its"
        " contents, or may not be read.",
        "Deliver the frame as an EXR file of flat pixels in red, green and blue, with a plain name, that can be read.",
        FILES,
    ),
    _one(
        "frame-cropped",
        "A file does not hold the whole frame: its data window leaves out a part of the display window.",
        "Render the whole frame: switch the render region off, and do not crop to what is not clear.",
        FILES,
    ),
    _one(
        "frame-hole",
        "A part of a frame shows no level at all, or is black in the picture: a tile, a border, some rows.",
        "Look in the log of the render, copy the file again, or render the frame again.",
        FILES,
    ),
    _one(
        "see-through",
        "A level is see-through where its art is opaque.",
        "Look whether the art was there where the frame was rendered, and render it again.",
        FILES,
    ),
    _one(
        "shows-too-much",
        "A level is opaque where its art is clear.",
        "Look whether the art was there where the frame was rendered, and render it again.",
        FILES,
    ),
    _one(
        "frame-nan",
        "A file holds values that are NaN or infinite.",
        "Look for the material that makes them, and render the frame again.",
        FILES,
    ),
    _one(
        "frame-black",
        "A frame is black all over, where the plan shows levels that are not black.",
        "Look in the log of the render for what was missing, and render the frame again.",
        FILES,
    ),
    _one(
        "frame-one-colour",
        "The picture of a frame is of one colour all over, where the plan has more to show.",
        "Look in the log of the render for what was missing, and render the frame again.",
        FILES,
    ),
    _one(
        "art-not-found",
        "A frame shows magenta where a level should be: Blender shows it instead of an image that it does not find.",
        "Build with `--pack`, or bring the art to where frames are rendered, and render the frames again.",
        FILES,
    ),
    _one(
        "colours-differ",
        "The colours of a picture are not those of the art. A grade that was made on purpose looks the same.",
        "Render with Blender's own colour configuration (without the variable OCIO) and the art as it is, and deliver"
        " the frames without a grade.",
        FILES,
    ),
    _one(
        "frame-number",
        "The file's metadata says that it was rendered as another frame than its name says.",
        "Give the file its right name, or render the frame again.",
        FILES,
    ),
    _one(
        "frame-of-another-shot",
        "The file's metadata says that it is of another shot, or it has proof passes of more levels than the shot has.",
        "Deliver the frame of this shot, or prove it against its own shot.",
        FILES,
    ),
    _one(
        "frame-stale",
        "The frame was rendered from a scene that was built with another state of the shot's files, or with other art.",
        "Build the scene again and render the frame again.",
        FILES,
    ),
    _one(
        "frame-of-another-scene",
        "The frame was rendered of another scene in the Blender file than the one that was built.",
        "Render the scene that was built.",
        FILES,
    ),
    _one(
        "frame-of-another-camera",
        "The frame was rendered through another camera than the one that was built.",
        "Render through the camera that was built.",
        FILES,
    ),
    _one(
        "frames-identical",
        "Frames are the very same picture, where the plan has it change; their passes may differ.",
        "Render these frames again.",
        FILES,
    ),
    _one(
        "frame-shows-another",
        "All that a frame shows is what the plan has on another frame.",
        "Give the file its right name, or render the frame again.",
        FILES,
    ),
    _one(
        "passes-of-another-frame",
        "The proof passes of a frame are what the plan has on another frame, and its picture is its own.",
        "Write picture and passes in one render, and deliver them in one file.",
        FILES,
    ),
    _one(
        "frame-torn",
        "A part of the frame is of one frame, and the rest of another.",
        "Render the frame again, or copy it again.",
        FILES,
    ),
    _one(
        "frame-flipped",
        "The frame was flipped after it was rendered: left to right, or top to bottom.",
        "Deliver the frame as it was rendered.",
        FILES,
    ),
    _one(
        "frame-turned",
        "The frame was turned after it was rendered, so that its edges are not those of the camera's picture.",
        "Deliver the frame as it was rendered.",
        FILES,
    ),
    _one(
        "frame-scaled",
        "The frame was scaled after it was rendered: squeezed one way, or with edges that the camera did not see.",
        "Deliver the frame as it was rendered, without a reformat.",
        FILES,
    ),
    _one(
        "frame-shifted",
        "The frame was shifted after it was rendered: an edge is empty, or shows what belongs elsewhere.",
        "Deliver the frame as it was rendered.",
        FILES,
    ),
    _one(
        "passes-recoloured",
        "The proof passes went through a colour conversion or a grade, and no longer hold coordinates.",
        "Keep the passes as data (raw, non-colour) on their way, or deliver the files as rendered.",
        FILES,
    ),
    _one(
        "passes-exchanged",
        "Channels of proof passes changed places, or levels have one another's passes.",
        "Deliver the passes under the names, and with the order of channels, that Blender gave them.",
        FILES,
    ),
    _one(
        "passes-filtered",
        "The proof passes were blurred, denoised, or made smaller and larger again after the render.",
        "Deliver the frame as it was rendered; let filters and a denoiser leave the proof passes alone.",
        FILES,
    ),
    _one(
        "frame-stray",
        "A file beside the frames is named nearly as they are, such as `beauty.0008 (1).exr`. It is not read.",
        "Look which of the files is the right one, and remove the other.",
        FILES,
    ),
    _one(
        "frames-unmarked",
        "The frames do not say which shot they are of.",
        "Render a scene that `underglass build` made, and keep the metadata of the files.",
        FILES,
    ),
    # --- the plan
    _one(
        "expectation",
        "The shot file expects something of the picture that its schedule does not do.",
        "Correct the schedule, or the expectation in the shot file.",
        PLAN,
    ),
)


def _of_axes() -> Iterator[Code]:
    for axis in AXES:
        for shape, code in zip(axis.shapes, axis.codes, strict=True):
            words = SHAPES[shape]
            yield Code(code, words.meaning.format(what=axis.what), words.remedy.format(where=axis.where), axis.found_by)


def _of_pulls() -> Iterator[Code]:
    for pull, (words, remedy) in PULLS.items():
        meaning = (
            f"A level or the camera has {words}, which can move it or change how it looks. This is a note, unless the"
            " level is out of place or pixels change."
        )
        yield _one(f"has-{pull}", meaning, f"{remedy}, and build the stack again if that is not enough.", SCENE)


CODES = {one.code: one for one in sorted((*_SINGLE, *_of_axes(), *_of_pulls()), key=lambda one: one.code)}

# What else can stand as the type of a failure in junit.xml, which is no fault of proof.json.
JUNIT_ALONE = {
    "fails": Code(
        "fails",
        "Only in junit.xml: the proof fails, and no fault says why.",
        "Look at the failed levels in the suites of the frames.",
        (PASSES, FILES),
    )
}
