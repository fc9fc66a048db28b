"""Codes and light against colour-science: IEC 61966-2-1 and Recommendation ITU-R BT.1886."""

import numpy as np
import pytest

from ghostprep.transfer import codes_to_light, from_linear, light_to_codes, to_linear

colour = pytest.importorskip("colour")

CODES = np.arange(256, dtype=np.uint8)


def test_every_code_is_the_light_that_srgb_says() -> None:
    wanted = colour.models.eotf_sRGB(CODES / 255)
    assert codes_to_light(CODES) == pytest.approx(wanted, abs=1e-7)
    assert to_linear(CODES / 255) == pytest.approx(wanted, abs=1e-7)
    assert from_linear(wanted) * 255 == pytest.approx(CODES, abs=1e-4)
    assert (light_to_codes(wanted) == CODES).all()


@pytest.mark.parametrize(("contrast", "codes"), [(500, 3.5), (800, 1.6)])
def test_how_far_a_screen_of_bt1886_differs(contrast: int, codes: float) -> None:
    black = 1 / contrast
    added = (colour.models.eotf_BT1886(CODES / 255, L_B=black, L_W=1) - black) / (1 - black)
    assert np.abs(from_linear(added) * 255 - CODES).max() == pytest.approx(codes, abs=0.05)
