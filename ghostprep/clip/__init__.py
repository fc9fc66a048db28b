"""Moving pictures in and out: the only room that talks to ffmpeg."""

from ghostprep.clip.facts import ClipFacts
from ghostprep.clip.footage import Footage
from ghostprep.clip.glance import glance
from ghostprep.clip.probe import probe, probing
from ghostprep.clip.sound import read_sound
from ghostprep.clip.store import FrameRange, FrameStore, check_room
from ghostprep.clip.stream import FrameStream, read_frames
from ghostprep.clip.write import run_copy, write_frames

__all__ = [
    "ClipFacts",
    "Footage",
    "FrameRange",
    "FrameStore",
    "FrameStream",
    "check_room",
    "glance",
    "probe",
    "probing",
    "read_frames",
    "read_sound",
    "run_copy",
    "write_frames",
]
