"""Our steps as moviepy effects, for people who script their clips.

Each is the step of the pipeline itself; frames are counted as integers, so none is lost to rounded times.

Examples
--------
::

    from moviepy import VideoFileClip
    from ghostprep.effects import Appear, Calm, ForPane, KeyToBlack, SeamlessLoop, SizeForScene

    clip = VideoFileClip("purser_green.mp4").with_effects([KeyToBlack(), SeamlessLoop((3, 6))])
    shown = clip.with_effects([SizeForScene("scene.toml"), Calm()])
    haunting = clip.with_effects([SeamlessLoop(join="fades"), Appear((20, 60), 600), ForPane(turn=90)])
"""

from ghostprep.effects.appear import Appear
from ghostprep.effects.calm import Calm
from ghostprep.effects.frames import frame_at, frame_count
from ghostprep.effects.key import KeyToBlack
from ghostprep.effects.loop import SeamlessLoop
from ghostprep.effects.pane import ForPane
from ghostprep.effects.size import SizeForScene

__all__ = [
    "Appear",
    "Calm",
    "ForPane",
    "KeyToBlack",
    "SeamlessLoop",
    "SizeForScene",
    "frame_at",
    "frame_count",
]
