"""What a player takes: profiles, the encoder's limits."""

from ghostprep.player.attempt import Attempt, Setting
from ghostprep.player.control import RateControl, check_taken
from ghostprep.player.limits import check_limits
from ghostprep.player.measured import Measured, measured
from ghostprep.player.profile import Profile
from ghostprep.player.profile_files import (
    DEFAULT_NAME,
    all_profiles,
    extend_profile,
    load_profile,
    profile_names,
)
from ghostprep.player.rate import choose_rate
from ghostprep.player.read import StreamFacts, read_stream_facts
from ghostprep.player.repeat import Repeats, plan_repeats, write_repeats
from ghostprep.player.words import about_screen

__all__ = [
    "DEFAULT_NAME",
    "Attempt",
    "Measured",
    "Profile",
    "RateControl",
    "Repeats",
    "Setting",
    "StreamFacts",
    "about_screen",
    "all_profiles",
    "check_limits",
    "check_taken",
    "choose_rate",
    "extend_profile",
    "load_profile",
    "measured",
    "plan_repeats",
    "profile_names",
    "read_stream_facts",
    "write_repeats",
]
