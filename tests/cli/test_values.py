from fractions import Fraction

import click
import pytest

from ghostprep.box import Box
from ghostprep.cli.values import AutoOr, CropBox, Rate, Size, Time, TimeRange


@pytest.mark.parametrize(
    ("kind", "text", "value"),
    [
        (Time(), "7.5", Fraction(15, 2)),
        (Time(), "2:30", Fraction(150)),
        (Time(), "1:02:03.5", Fraction(7447, 2)),
        (TimeRange(), "8", (8.0, 8.0)),
        (TimeRange(), "6-10.5", (6.0, 10.5)),
        (Size(), "320x240", (320, 240)),
        (Rate(), "29.97", Fraction(30000, 1001)),
        (Rate(), "24000/1001", Fraction(24000, 1001)),
        (CropBox(), "640x480+100+0", Box(100, 0, 640, 480)),
        (CropBox(), "auto", "auto"),
        (AutoOr(float, "G"), "1.5", 1.5),
        (AutoOr(float, "G"), "auto", "auto"),
    ],
)
def test_good_texts(kind: click.ParamType, text: str, value: object) -> None:
    assert kind.convert(text, None, None) == value


@pytest.mark.parametrize(
    ("kind", "text", "message"),
    [
        (Time(), "soon", "'soon' is not a time"),
        (Time(), "-1", "'-1' is not a time"),
        (Time(), "nan", "'nan' is not a time"),
        (TimeRange(), "1-2-3", "is not a length"),
        (Size(), "320*240", "is not a size"),
        (Rate(), "30/0", "is not a rate"),
        (Rate(), "1e9", "is not a rate"),
        (CropBox(), "0x5+1+1", "is not a box"),
        (AutoOr(int, "PX"), "2.5", "neither auto nor a number"),
    ],
)
def test_bad_texts_say_what_is_wrong(kind: click.ParamType, text: str, message: str) -> None:
    with pytest.raises(click.BadParameter, match=message):
        kind.convert(text, None, None)
