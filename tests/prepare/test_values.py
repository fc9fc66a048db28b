from fractions import Fraction

import pytest

from ghostprep.box import Box
from ghostprep.prepare.values import auto_or, crop, rate, size, time, time_range, whole


@pytest.mark.parametrize(
    ("read", "text", "value"),
    [
        (time, "7.5", Fraction(15, 2)),
        (time, "2:30", Fraction(150)),
        (time, "1:02:03.5", Fraction(7447, 2)),
        (time_range, "8", (8.0, 8.0)),
        (time_range, "6-10.5", (6.0, 10.5)),
        (size, "320x240", (320, 240)),
        (rate, "29.97", Fraction(30000, 1001)),
        (rate, "24000/1001", Fraction(24000, 1001)),
        (crop, "640x480+100+0", Box(100, 0, 640, 480)),
        (crop, "auto", "auto"),
        (auto_or(float), "1.5", 1.5),
        (auto_or(float), "auto", "auto"),
    ],
)
def test_good_texts(read, text: str, value: object) -> None:
    assert read(text) == value


@pytest.mark.parametrize(
    ("read", "text", "message"),
    [
        (time, "soon", "'soon' is not a time"),
        (time, "-1", "'-1' is not a time"),
        (time, "nan", "'nan' is not a time"),
        (time_range, "1-2-3", "is not a length"),
        (time_range, "6-", "'6-' is not a length: write 8 or 6-10"),
        (time_range, "6-ten", "'ten' is not a time"),
        (size, "320*240", "is not a size"),
        (rate, "30/0", "'30/0' is not a rate: nothing can be divided by 0"),
        (rate, "30/x", "'30/x' is not a rate: write 25"),
        (rate, "1e9", "is not a rate"),
        (crop, "9x5+1", "is not a box"),
        (auto_or(whole), "2.5", "'2.5' is not a whole number, nor auto"),
    ],
)
def test_bad_texts_say_what_is_wrong(read, text: str, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        read(text)
