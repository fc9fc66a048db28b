"""The plain box of which the tests here make their plans."""

from ghostprep.optics import Plan, make_plan
from ghostprep.scene import parse_scene

_SCENE = """
scale = "1:{scale}"
[box]
width = 140
height = 190
depth = {depth}
{box}
[viewer]
distance = 600
height = 95
[screen]
wall = "left"
centre = [-60, 36, 122]
top = "front"
raster = [480, 320]
active = [73.44, 48.96]
{screen}
[ghost]
at = [0, 36, 182]
{light}
"""


def plain_box(scale: int = 24, depth: int = 260, *, box: str = "", screen: str = "", light: str = "") -> Plan:
    """Return its plan; further keys of box and screen, and the light, are TOML."""
    return make_plan(
        parse_scene(_SCENE.format(scale=scale, depth=depth, box=box, screen=screen, light=light))
    )
