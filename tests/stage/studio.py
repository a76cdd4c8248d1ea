# SPDX-License-Identifier: GPL-3.0-or-later
"""A colour configuration as a studio's may be: ACEScg to render in, and none of the names that Blender's own has."""

from pathlib import Path

# To ACES2065-1 from ACEScg (S-2014-004) and from light in the primaries of sRGB, white adapted by Bradford's matrix.
CONFIGURATION = """\
ocio_profile_version: 2
search_path: ""
strictparsing: false
luma: [0.2126, 0.7152, 0.0722]
roles:
  default: ACES2065-1
  scene_linear: ACEScg
  rendering: ACEScg
  data: Raw
  color_picking: sRGB - Texture
  texture_paint: sRGB - Texture
  matte_paint: sRGB - Texture
  aces_interchange: ACES2065-1
file_rules:
  - !<Rule> {name: Default, colorspace: ACES2065-1}
displays:
  sRGB - Display:
    - !<View> {name: Un-tone-mapped, colorspace: sRGB - Texture}
    - !<View> {name: Raw, colorspace: Raw}
active_displays: [sRGB - Display]
active_views: [Un-tone-mapped, Raw]
colorspaces:
  - !<ColorSpace> {name: ACES2065-1, bitdepth: 32f, isdata: false}
  - !<ColorSpace>
    name: ACEScg
    bitdepth: 32f
    isdata: false
    to_scene_reference: !<MatrixTransform> {matrix: [
      0.695452241357, 0.140678696470, 0.163869062172, 0,
      0.044794563372, 0.859671118456, 0.095534318172, 0,
      -0.005525882558, 0.004025210306, 1.001500672252, 0,
      0, 0, 0, 1]}
  - !<ColorSpace>
    name: sRGB - Texture
    bitdepth: 32f
    isdata: false
    to_scene_reference: !<GroupTransform>
      children:
        - !<ExponentWithLinearTransform> {gamma: [2.4, 2.4, 2.4, 1], offset: [0.055, 0.055, 0.055, 0]}
        - !<MatrixTransform> {matrix: [
            0.439632981919, 0.382988698151, 0.177378319930, 0,
            0.089776442953, 0.813439428748, 0.096784128299, 0,
            0.017541170383, 0.111546553302, 0.870912276315, 0,
            0, 0, 0, 1]}
  - !<ColorSpace> {name: Raw, bitdepth: 32f, isdata: true}
"""


def write_configuration(folder: Path) -> Path:
    """Write the configuration into ``folder`` and return its file, for the variable OCIO."""
    path = folder / "studio.ocio"
    path.write_text(CONFIGURATION, encoding="utf-8")
    return path
