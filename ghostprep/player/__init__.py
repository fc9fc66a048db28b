"""What a player takes: profiles, the encoder's limits."""

from ghostprep.player.profile import Profile
from ghostprep.player.profile_files import (
    DEFAULT_NAME,
    all_profiles,
    extend_profile,
    load_profile,
    profile_names,
)

__all__ = [
    "DEFAULT_NAME",
    "Profile",
    "all_profiles",
    "extend_profile",
    "load_profile",
    "profile_names",
]
