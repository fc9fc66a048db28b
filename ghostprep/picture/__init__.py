"""One frame: arrays in, arrays out."""

from ghostprep.picture.key.backing import Backing
from ghostprep.picture.key.keyed import Keyed, Keyer
from ghostprep.picture.key.learn import Key, learn_key

__all__ = ["Backing", "Key", "Keyed", "Keyer", "learn_key"]
