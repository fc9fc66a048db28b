"""One frame: arrays in, arrays out."""

from ghostprep.picture.key.backing import Backing
from ghostprep.picture.key.key import Key
from ghostprep.picture.key.keyed import Keyed, Keyer
from ghostprep.picture.key.swatch import Swatch
from ghostprep.picture.learn.learn import learn_key

__all__ = ["Backing", "Key", "Keyed", "Keyer", "Swatch", "learn_key"]
