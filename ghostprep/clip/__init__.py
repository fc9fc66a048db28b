"""Moving pictures in and out: the only room that talks to ffmpeg."""

from ghostprep.clip.facts import ClipFacts as ClipFacts
from ghostprep.clip.footage import Footage as Footage
from ghostprep.clip.glance import glance as glance
from ghostprep.clip.probe import probe as probe
from ghostprep.clip.probe import probing as probing
from ghostprep.clip.sound import read_sound as read_sound
from ghostprep.clip.store import FrameRange as FrameRange
from ghostprep.clip.store import FrameStore as FrameStore
from ghostprep.clip.store import check_room as check_room
from ghostprep.clip.stream import read_frames as read_frames
from ghostprep.clip.write import run_copy as run_copy
from ghostprep.clip.write import write_frames as write_frames
