"""Figures with a known matte: one painted here, two cut from photographs that scikit-image carries.

Every figure is linear light, premultiplied, float32 (h, w, 4), so that any mix can be made from it.
"""

from __future__ import annotations

import functools

import cv2
import numpy as np

from ghostprep.transfer import codes_to_light

Plane = np.ndarray
SHARP = 4
"""Canvas pixels to a pixel of the figure, each way: the matte's edge is made by averaging."""


class Canvas:
    """A picture to which parts are added from back to front."""

    def __init__(self, width: int, height: int) -> None:
        self.size = (width * SHARP, height * SHARP)
        self.light = np.zeros((height * SHARP, width * SHARP, 4), np.float32)

    def over(self, light: Plane, alpha: Plane) -> None:
        """Lay a part over what is there; `light` is not premultiplied."""
        part = np.dstack([light * alpha[..., None], alpha]).astype(np.float32)
        self.light = part + self.light * (1 - alpha[..., None])

    def mask(self, points: list[tuple[float, float]]) -> Plane:
        """Return the inside of a smooth closed curve through `points` (figure pixels)."""
        ring = np.array(points + points[:3], np.float64)
        t = np.linspace(0, len(points), len(points) * 24, endpoint=False)
        i, f = t.astype(int), (t % 1)[:, None]
        p0, p1, p2 = ring[i % len(points)], ring[i % len(points) + 1], ring[i % len(points) + 2]
        curve = 0.5 * (p0 * (1 - f) ** 2 + p1 * (1 + 2 * f - 2 * f**2) + p2 * f**2)
        out = np.zeros(self.size[::-1], np.uint8)
        cv2.fillPoly(out, [np.rint(curve * SHARP).astype(np.int32)], 1)
        return out.astype(np.float32)

    def done(self) -> Plane:
        """Return the figure at its own size."""
        size = (self.size[0] // SHARP, self.size[1] // SHARP)
        return cv2.resize(self.light, size, interpolation=cv2.INTER_AREA)


def weave(shape: tuple[int, int], seed: int, depth: float) -> Plane:
    """Return a cloth's unevenness around 1: threads and folds."""
    rng = np.random.default_rng(seed)
    fine = cv2.GaussianBlur(rng.normal(0, 1, shape).astype(np.float32), (0, 0), 3) * 8
    wide = cv2.resize(rng.normal(0, 1, (9, 7)).astype(np.float32), shape[::-1], interpolation=cv2.INTER_CUBIC)
    return np.clip(1 + depth * (0.4 * fine + 0.5 * wide), 0.25, 2)


def light_of(code: str) -> Plane:
    """Return the linear light (3,) of ``#rrggbb``."""
    return codes_to_light(np.array([int(code[i : i + 2], 16) for i in (1, 3, 5)], np.uint8))


@functools.cache
def painted(seed: int = 1, scarf: str = "") -> Plane:
    """Return our own figure, 300 x 420: skin, hair, a veil, olive and teal cloth, a glowing lantern.

    Another `seed` gives other folds, other hair and other shades of cloth; `scarf` is the colour of
    see-through cloth round her neck that blows out to one side, ``#rrggbb``, doubled where it is knotted.
    """
    rng = np.random.default_rng(seed)
    canvas = Canvas(300, 420)
    shape = canvas.light.shape[:2]
    yy, xx = np.mgrid[: shape[0], : shape[1]].astype(np.float32) / SHARP
    side = (0.62 + 0.5 * np.clip((xx - 60) / 150, 0, 1))[..., None]

    def cloth(points: list[tuple[float, float]], code: str, depth: float, alpha: float = 1.0) -> None:
        folds = weave(shape, int(rng.integers(1 << 30)), depth)[..., None]
        canvas.over(light_of(code) * folds * side, canvas.mask(points) * alpha)

    veil = [
        (128, 12),
        (178, 40),
        (206, 130),
        (236, 250),
        (246, 392),
        (150, 360),
        (96, 392),
        (44, 300),
        (70, 110),
        (90, 36),
    ]
    cloth(veil, "#c9c6cf", 0.5, 0.38)
    shade = int(rng.integers(-8, 9))
    cloth([(96, 150), (160, 146), (186, 250), (204, 400), (132, 412), (70, 402), (80, 260)], "#3d3a45", 0.35)
    olive = f"#{118 + shade:02x}{122 + shade:02x}{58 + shade:02x}"
    teal = f"#{40 + shade:02x}{120 + shade:02x}{126 + shade:02x}"
    cloth([(92, 230), (170, 226), (190, 330), (180, 372), (100, 376), (84, 320)], olive, 0.25)
    cloth([(98, 146), (130, 160), (162, 144), (176, 190), (150, 226), (108, 228), (86, 192)], teal, 0.25)
    cloth([(168, 160), (184, 168), (214, 226), (206, 244), (186, 232), (164, 190)], "#6e5a50", 0.3)
    cloth([(112, 118), (146, 118), (152, 152), (130, 162), (106, 152)], "#c89878", 0.08)
    cloth(
        [(102, 60), (130, 44), (158, 60), (160, 98), (144, 126), (130, 132), (116, 126), (100, 98)],
        "#d8a684",
        0.08,
    )
    cloth([(198, 228), (214, 226), (220, 244), (206, 252), (196, 244)], "#d8a684", 0.08)
    if scarf:
        cloth([(104, 124), (150, 122), (168, 140), (150, 158), (112, 158), (96, 142)], scarf, 0.2, 0.9)
        blown = [(106, 132), (104, 152), (60, 176), (22, 214), (2, 296), (10, 190), (40, 146)]
        cloth(blown, scarf, 0.3, 0.45)
    for x in (118, 143):
        cloth([(x - 5, 86), (x, 83), (x + 5, 86), (x, 89)], "#2a2220", 0.1)
    cloth([(122, 112), (130, 110), (139, 112), (130, 116)], "#a05a50", 0.1)
    _hair(canvas, rng, xx)
    # the lantern: a dark frame, a bright flame, and light in the air around it that covers nothing
    cloth([(196, 250), (222, 250), (226, 296), (192, 296)], "#201c18", 0.2)
    cloth([(199, 256), (219, 256), (222, 291), (196, 291)], "#ffd890", 0.1)
    canvas.over(
        np.broadcast_to(light_of("#fff4d0"), (*shape, 3)),
        canvas.mask([(209, 262), (214, 276), (209, 286), (204, 276)]),
    )
    glow = np.exp(-((xx - 209) ** 2 + (yy - 274) ** 2) / (2 * 20**2))[..., None]
    canvas.light[..., :3] += 0.16 * glow * light_of("#ffb860")
    fade = np.clip((412 - yy) / 6, 0, 1)[..., None]
    canvas.light *= fade
    return np.clip(canvas.done(), 0, 1)


def _hair(canvas: Canvas, rng: np.random.Generator, xx: Plane) -> None:
    strands = np.zeros(canvas.size[::-1], np.float32)
    for _ in range(520):
        root = np.array([130 + rng.normal(0, 17), 50 + rng.normal(0, 7)])
        out = np.sign(root[0] - 130 + rng.normal(0, 8)) * (16 + 14 * rng.random())
        mid = root + [out, 26 + 20 * rng.random()]  # noqa: RUF005 - arrays
        tip = mid + [out * (0.1 + 0.9 * rng.random()), 30 + 60 * rng.random()]  # noqa: RUF005 - arrays
        t = np.linspace(0, 1, 24)[:, None]
        curve = (1 - t) ** 2 * root + 2 * t * (1 - t) * mid + t**2 * tip
        cv2.polylines(
            strands,
            [np.rint(curve * SHARP).astype(np.int32)],
            False,
            1.0,
            int(rng.integers(1, 3)),
            cv2.LINE_AA,
        )
    shine = (0.7 + 0.6 * np.sin(xx / 3.1) ** 2)[..., None]
    canvas.over(light_of("#6a4a30") * shine, np.clip(strands, 0, 1))


@functools.cache
def photograph(name: str) -> Plane:
    """Return a cut-out of ``astronaut`` or ``chelsea`` (a cat), 300 to 420 px, with hair or fur.

    The outline is drawn by hand, its neighbourhood solved by closed-form matting; since the clip is
    made from the cut-out, its matte is the truth whatever the photograph's own was.
    """
    import skimage.data
    from pymatting import estimate_alpha_cf, estimate_foreground_ml

    picture, outline = {
        "astronaut": (
            skimage.data.astronaut,
            [
                (150, 20),
                (195, 2),
                (250, 2),
                (292, 30),
                (302, 110),
                (286, 160),
                (318, 205),
                (440, 240),
                (505, 330),
                (511, 508),
                (60, 508),
                (20, 420),
                (60, 260),
                (160, 205),
                (166, 150),
                (142, 90),
            ],
        ),
        "chelsea": (
            skimage.data.chelsea,
            [
                (60, 0),
                (110, 30),
                (190, 16),
                (250, 20),
                (300, 2),
                (345, 40),
                (350, 130),
                (400, 190),
                (440, 297),
                (20, 297),
                (40, 200),
                (52, 130),
                (40, 50),
            ],
        ),
    }[name]
    photo = picture().astype(np.float64) / 255
    inside = np.zeros(photo.shape[:2], np.uint8)
    cv2.fillPoly(inside, [np.array(outline, np.int32)], 1)
    disc = lambda r: cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * r + 1, 2 * r + 1))  # noqa: E731
    trimap = np.full(photo.shape[:2], 0.5)
    trimap[cv2.erode(inside, disc(9), borderValue=1) > 0] = 1
    trimap[cv2.dilate(inside, disc(7)) == 0] = 0
    alpha = np.clip(estimate_alpha_cf(photo, trimap), 0, 1)
    colour = estimate_foreground_ml(photo, alpha)
    light = codes_to_light(np.rint(np.clip(colour, 0, 1) * 255).astype(np.uint8))
    whole = np.dstack([light * alpha[..., None], alpha]).astype(np.float32)
    whole[alpha < 0.01] = 0
    whole = np.pad(whole, ((8, 0), (8, 8), (0, 0)))
    scale = 400 / whole.shape[0] if name == "astronaut" else 300 / whole.shape[0]
    return cv2.resize(whole, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
