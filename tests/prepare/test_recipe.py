import json
from fractions import Fraction
from pathlib import Path

import pytest

from ghostprep.box import Box
from ghostprep.errors import InputError
from ghostprep.prepare.recipe import Recipe


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"turn": 45}, "--turn: is 45, it must be 0, 90, 180 or 270"),
        ({"reflections": -1}, r"--reflections: is -1, it must be in 0\.\.9"),
        ({"raster": (4, 4)}, r"--raster: is 4x4, its width must be in 8\.\.8192 px"),
        ({"raster": (320, 0)}, r"--raster: is 320x0, its height must be in 8\.\.8192 px"),
        ({"start": Fraction(3), "end": Fraction(2)}, "--end: is 2, it must be after --start"),
        ({"start": Fraction(1, 5), "end": Fraction(1, 10)}, "--end: is 0.1, it must be after --start"),
        ({"length": (9.0, 3.0)}, "--length: is 9-3, its MIN must be no more than its MAX"),
        ({"length": (0.0, 99999.0)}, "--length: is 0-99999, its MIN must be above 0 s"),
        ({"length": (0.0, 0.0)}, "--length: is 0, it must be above 0 s"),
        ({"crop": Box(1, 1, 0, 5)}, "--crop: is 0x5.1.1, its width must be 1 px or more"),
        ({"crop": Box(1, 1, 5, 0)}, "--crop: is 5x0.1.1, its height must be 1 px or more"),
        ({"crop": Box(-1, 1, 5, 5)}, "--crop: is 5x5.-1.1, its corner must be in the picture"),
        ({"backing": "pink"}, "--backing: is pink, it must be one of auto, green"),
        ({"tint": "red"}, "--tint: is red, it must be a colour"),
        (
            {"solid": ("#aabbcc", "olive")},
            "--solid: is #aabbcc,olive, it must be colours #rrggbb, with",
        ),
        ({"sheer": ("",)}, "--sheer: is , it must be colours #rrggbb"),
        ({"sheer": "#aabbcc"}, "--sheer: .*Recipe.read takes what the command line takes"),
        ({"gain": 99.0}, r"--gain: is 99.0, it must be auto, or in 0\.05\.\.20"),
        ({"fps": Fraction(1, 2)}, r"--fps: is 0.5, it must be in 1\.\.240"),
        (
            {"plate": Path("p.png"), "backing": "green"},
            "--plate: is overruled: --backing green says what is behind",
        ),
    ],
)
def test_an_option_out_of_range_is_named(options: dict, message: str) -> None:
    with pytest.raises(InputError, match=message):
        Recipe(**options)


def test_a_recipe_can_be_written_as_json() -> None:
    recipe = Recipe(
        scene=Path("somewhere/scene.toml"),
        raster=(320, 240),
        start=Fraction(3, 2),
        length=(6.0, 10.0),
        crop=Box(1, 2, 3, 4),
        fps=Fraction(30000, 1001),
        sheer=("#e6e0d8", "#2b2118"),
    )
    text = json.loads(json.dumps(recipe.as_dict()))
    assert text["scene"] == "scene.toml"
    assert text["raster"] == "320x240"
    assert text["start"] == "3/2"
    assert text["length"] == "6-10"
    assert text["crop"] == "3x4+1+2"
    assert text["fps"] == "30000/1001"
    assert (text["solid"], text["sheer"]) == ("", "#e6e0d8,#2b2118")
    assert text["join"] == "search"
