"""What each rule of a key is good for, on clips drawn at random.

    python tests/bench/keying_stages_draws.py [--backing green|blue|hue|black|plate] [--count N] [--seed N] [--most HEIGHT]

Each rule is switched off in turn, on the same draws; ratios are to the oracle of `draws_scores`.
"""

from __future__ import annotations

import argparse
import contextlib
import secrets
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any
from unittest import mock

import cv2
import numpy as np
from draws_clips import STILL, Shot, draw_case, make
from draws_scores import SCORED, as_keyed, errors, learned, mixed_in, oracle
from rich.console import Console
from rich.progress import track
from rich.table import Table

from ghostprep.picture import Key
from ghostprep.picture.key import black, chroma, curve, difference, sheer, sheer_cloth, unmix
from ghostprep.picture.learn import (
    black_level,
    black_mix,
    cloth,
    colour,
    colours,
    detect,
    folds,
    lamp,
    patches,
)

Rules = dict[str, tuple[Callable[[], Any], Callable[[Key], Key]]]


def _same(key: Key) -> Key:
    return key


def _without(place: object, name: str, instead: object) -> tuple[Callable[[], Any], Callable[[Key], Key]]:
    return lambda: mock.patch.object(place, name, instead), _same


ON_BLACK: Rules = {
    "nothing: the whole key": (contextlib.nullcontext, _same),
    "the toe": (contextlib.nullcontext, lambda key: replace(key, toe=0.0)),
    "a body hides the black": (contextlib.nullcontext, lambda key: replace(key, body=False)),
    "a glow beside a body hides nothing": (
        lambda: mock.patch.object(
            black, "falls_off", lambda above, bare: np.zeros(above.shape[:2], np.bool_)
        ),
        _same,
    ),
    "added in light": (contextlib.nullcontext, lambda key: mixed_in(key, "codes")),
    "painted in codes": (
        lambda: mock.patch.object(black_mix, "_MIXES", (black_mix._MIXES[1], *black_mix._MIXES[1:])),
        _same,
    ),
    "the slope": (lambda: mock.patch.object(black_level, "_SLOPE", 1e-3), _same),
    "the lowest level where little is bare": (
        lambda: mock.patch.object(black_level, "_ENOUGH", 0.0),
        _same,
    ),
    "a colour that fades out is light": (
        lambda: mock.patch.object(detect, "_fades", return_value=False),
        _same,
    ),
}

BEFORE_A_SCENE: Rules = {
    "nothing: the whole key": (contextlib.nullcontext, _same),
    "the mix: always in light": (contextlib.nullcontext, lambda key: mixed_in(key, "light")),
    "the mix: always in codes": (contextlib.nullcontext, lambda key: mixed_in(key, "codes")),
    "all that shows through": _without(
        difference, "find_sheer", lambda frame, *_: sheer.Sheer(*np.zeros((3, *frame.shape[:2]), np.float32))
    ),
    "light only adds": _without(sheer, "only_adds", lambda _, body, __: np.zeros(body.shape, np.bool_)),
    "where a cloth goes on": _without(sheer, "same_cloth", lambda *given: (given[3].slope, given[3].sure)),
    "where it is thicker": _without(sheer_cloth, "_no_thinner", lambda through, *_: through),
    "the picture's edges": _without(
        difference, "windows", lambda _, share, *__: (np.zeros_like(share), share)
    ),
    "the figure's own colour": _without(
        difference,
        "_own_colour",
        lambda frame, solid: cv2.resize(frame, solid.shape[::-1], interpolation=cv2.INTER_AREA).astype(
            np.float32
        ),
    ),
    "what lies between is thin": _without(difference, "_LINE", 1e-3),
    "islands are filled": _without(difference, "enclosed", lambda _, solid: np.zeros_like(solid)),
    "a fold is none": _without(difference, "_FOLD", 1e-3),
    "specks are noise": _without(difference, "_SPECK", 0.0),
    "a noisier frame": _without(difference, "_NOISIEST", 1.0),
}
BEFORE_A_COLOUR: Rules = {
    "nothing: the whole key": (contextlib.nullcontext, _same),
    "the mix: nearly codes": _without(curve, "_BETWEEN", 1.01),
    "the mix: nearly light": _without(curve, "_BETWEEN", 2.2),
    "folds tell veils": _without(folds, "_CLEAR", np.inf),
    "cloth of several hues is no veil": _without(folds, "_MOTLEY", np.inf),
    "hair tells nothing of a cloth": _without(colours, "_FINE", 1_000),
    "a patch has one name": _without(patches, "_OUTLINE", 0.0),
    "cloth is no brighter than white": _without(folds, "WHITE", 1e6),
    "what a lamp adds is no fold": _without(folds, "_LAMP", 1001),
    "less of a colour may be thin cloth": _without(colour.Colour, "is_made_of_more", lambda *_: False),
    "brown beside red may be cloth": _without(cloth, "_FOREIGN", -np.inf),
    "where its light varies": _without(cloth, "_VARIED", 0.0),
    "each hue counts as much as there is of it": _without(
        cloth.Cloth, "expected", property(lambda _: (1, 1))
    ),
    "no light beyond the brightest": _without(unmix, "_BRIGHTER", np.inf),
    "colours that no hue explains": _without(unmix, "_UNKNOWN", 1e-30),
    "even places once, in small": _without(unmix, "_EVEN", -1.0),
    "thin light has the hue that was found": _without(chroma, "_have_hue", lambda *_: None),
    "the picture's edges": _without(chroma, "windows", lambda _, share, *__: (np.zeros_like(share), share)),
    "most of a lamp's glow is dim": _without(lamp, "_EVEN", np.inf),
    "a lamp's glow has its own hue": _without(colours, "find_lamp_glow", lambda *_: None),
    "a lamp's glow": _without(chroma, "find_glow", lambda *_, **__: None),
}
COLOURS = ("green", "blue", "hue")
RULES = {"black": ON_BLACK, "plate": BEFORE_A_SCENE, **dict.fromkeys(COLOURS, BEFORE_A_COLOUR)}


def measured(shot: Shot) -> dict[str, tuple[float, float]]:
    """Return for each rule the MSE without it over the oracle's, and the code that stays where nothing is."""
    which = np.linspace(1, len(shot.frames) - STILL - 1, SCORED).astype(int)
    whole, shot = shot, as_keyed(shot)
    size = (shot.frames.shape[2], shot.frames.shape[1])
    floor = errors(np.stack([oracle(shot, int(i)) for i in which]), shot, which)
    found = {}
    for name, (switch, change) in RULES[shot.draw.backing].items():
        with switch():
            key = learned(whole)
            keyer = (change(key) if key.backing.kind == shot.draw.backing else key).at(
                None, shot.draw.size, size
            )
            figures = np.stack([keyer(np.ascontiguousarray(shot.frames[i])).codes for i in which])
        ours = errors(figures, shot, which)
        found[name] = (ours["mse"] / max(floor["mse"], 1 / 12), ours["back"])
    return found


def main() -> None:
    """Run the bench."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--backing", choices=tuple(RULES), default="black")
    parser.add_argument("--most", type=int, default=480, help="lines of the largest picture")
    parser.add_argument("--count", type=int, default=16, help="how many clips to draw")
    parser.add_argument("--seed", type=int, default=None, help="draw an earlier run again")
    asked = parser.parse_args()
    seed = secrets.randbelow(1_000_000) if asked.seed is None else asked.seed
    cv2.setNumThreads(1)
    console = Console(width=120)
    rows = []
    drawn = (draw_case(seed * 100_003 + number, asked.backing) for number in range(asked.count))
    for draw in track([d for d in drawn if d.size[1] <= asked.most], console=console, transient=True):
        with tempfile.TemporaryDirectory(prefix="draws-") as folder:
            rows.append(measured(make(draw, Path(folder))))
    table = Table(
        title=f"{asked.backing}, {len(rows)} draws, seed {seed}: median / nine in ten / worst, and the mean of logarithms"
    )
    for name in ("switched off", "MSE over the oracle's", "code where nothing is"):
        table.add_column(name, justify="left" if name == "switched off" else "right")
    for name in RULES[asked.backing]:
        cells = []
        for k in (0, 1):
            values = np.array([row[name][k] for row in rows])
            ranks = np.percentile(values[~np.isnan(values)], (50, 90, 100))
            cells.append(" / ".join(f"{v:.2f}" for v in ranks))
            if k == 0:
                cells[-1] += f" ({np.exp(np.log(values).mean()):.3f})"
        table.add_row(name, *cells)
    console.print(table)


if __name__ == "__main__":
    main()
