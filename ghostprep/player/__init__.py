"""What a player takes: profiles, the encoder's limits."""

from ghostprep.player.profile import Profile as Profile
from ghostprep.player.profile_files import DEFAULT_NAME as DEFAULT_NAME
from ghostprep.player.profile_files import all_profiles as all_profiles
from ghostprep.player.profile_files import extend_profile as extend_profile
from ghostprep.player.profile_files import load_profile as load_profile
from ghostprep.player.profile_files import profile_names as profile_names
