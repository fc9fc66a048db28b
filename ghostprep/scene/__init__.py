"""What the builder measured: the scene file, lengths and scales, checks, a starter file."""

from ghostprep.scene.lengths import MM_PER as MM_PER
from ghostprep.scene.lengths import format_length as format_length
from ghostprep.scene.lengths import parse_length as parse_length
from ghostprep.scene.lengths import rounded_up as rounded_up
from ghostprep.scene.lengths import ruler_step as ruler_step
from ghostprep.scene.load import load_scene as load_scene
from ghostprep.scene.load import parse_scene as parse_scene
from ghostprep.scene.model import Scene as Scene
from ghostprep.scene.scales import Scale as Scale
from ghostprep.scene.scales import parse_scale as parse_scale
