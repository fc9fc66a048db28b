"""What the builder should know about the backing and the key."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from ghostprep.arrays import Floats, Frame
from ghostprep.finding import Finding
from ghostprep.picture.key.backing import Backing
from ghostprep.picture.key.keyed import to_codes
from ghostprep.picture.key.outside import Outside
from ghostprep.picture.key.swatch import Swatch
from ghostprep.picture.learn.plate_match import Match
from ghostprep.transfer import codes_to_light, luminance

_CERTAIN = 0.6
_INVISIBLE, _FAINT = 0.01, 0.04
"""Luminance of the figure's brighter parts, share of white, below which the pane shows nothing, or little."""
_UNEVEN = 2.0
"""Ratio of brightest to darkest place of the backing from which the light deserves a word."""
_GLARING = 0.015
"""Share of the backing's light over the figure from which glare deserves a word."""
_MUCH = 0.05
"""Share of the figure from which a cloth that may have been taken for another deserves a word."""
_UNLIKE = 0.4
"""Part of the picture that never looks like a given plate, from which it is another one: a figure moves."""
_SEEN = 0.03
"""Share of the picture that must be seen of a backing, and may never be seen of a plate."""
SHAKES, _SHAKEN = 0.001, 0.0025
"""Moves of a camera, as a share of the picture's longer side, that spoil edges, and that spoil the key."""
STAYS = 0.25
"""Share of what moves that may hide what is behind it all the time, before a plate found there is none."""


def on_backing(backing: Backing) -> list[Finding]:
    """Return what is to be said about what was found."""
    said, kind = [], backing.kind
    if backing.confidence < _CERTAIN:
        taken = "nothing is keyed" if kind == "none" else f"{kind} was taken"
        text = f"the backing is not certain: {backing.reason}; {taken}"
        said.append((text, "name it with --backing, or give a picture of it without the figure with --plate"))
    if kind not in ("plate", "alpha", "none") and backing.coverage < _SEEN:
        text = f"hardly anything of the {kind} backing is seen beside the figure"
        said.append((text, "check --backing, or give a picture of it without the figure with --plate"))
    if kind == "white":
        text = "white behind the figure cannot be told from white on it, and lights the figure's edge"
        said.append((text, "film before black or green cloth if you can, or give --plate"))
    if backing.moving_camera and kind not in ("plate", "none"):
        text = "the camera moves, so what is behind the figure is learned from each frame by itself"
        said.append((text, "use a clip from a tripod for a cleaner edge"))
    return [Finding("caution", "backing", *one) for one in said]


def on_shake(share: float) -> list[Finding]:
    """Return what is to be said where a camera shook; `share` is from `find_shake`."""
    if share < SHAKES:
        return []
    text = f"the camera moves by {share:.1%} of the picture's size: a plate fits only where it stands still"
    remedy = "film from a tripod, or before an even cloth"
    return [Finding("fault" if share >= _SHAKEN else "caution", "camera", text, remedy)]


def on_place(hidden: float) -> list[Finding]:
    """Return what is to be said about a plate found in a clip; `hidden` is from `still.stays_in_place`."""
    if hidden < STAYS:
        return []
    text = f"what is behind the figure is never clearly seen in {hidden:.0%} of the places where it moves"
    return [Finding("fault", "plate", text, "give a picture of the place without the figure with --plate")]


def on_found(seen: Floats) -> list[Finding]:
    """Return findings about a plate found in the clip: what was never seen bare is a guess.

    Parameters
    ----------
    seen : ndarray of float32 (h, w)
        Share of the glimpses in which each place was bare.
    """
    unseen = float((seen < 0.1).mean())
    if unseen <= _SEEN:
        return []
    text = f"{unseen:.0%} of the picture never shows without the figure, so the plate there is a guess"
    return [Finding("caution", "plate", text, "give a picture of the place without the figure with --plate")]


def on_given(match: Match, seen: Floats) -> list[Finding]:
    """Return findings about a picture of the place that was given.

    Parameters
    ----------
    match : Match
        How it was brought onto the clip.
    seen : ndarray of float32 (h, w)
        Share of the glimpses that look like it at each place.
    """
    unlike = float((seen < 0.1).mean())
    if unlike > _UNLIKE:
        text = f"{unlike:.0%} of the clip's picture never looks like the plate that was given"
        remedy = "take it with the same camera, from the same place and in the same light, without the figure"
        return [Finding("fault", "plate", text, remedy)]
    told = []
    if match.moved:
        told.append(f"with the camera moved by {match.moved:.1%} of the picture's width")
    if match.gain != 1:
        told.append(f"with {1 / match.gain:.2f} times the clip's light")
    text = f"the picture of the place was taken {' and '.join(told)}; that is evened out"
    return [Finding("note", "plate", text)] if told else []


def on_even(plate: Floats, outside: Outside | None) -> list[Finding]:
    """Return findings about a backing that should be even.

    Parameters
    ----------
    plate : ndarray of float32 (h, w, 3)
        R'G'B' codes.
    outside : Outside or None
        What lies beside it.
    """
    said = []
    light = luminance(codes_to_light(to_codes(plate)))
    low, high = np.percentile(light, (2, 98))
    if low > 0.005 and high / low > _UNEVEN:
        text = f"the backing's brightest place is lit {high / low:.1f} times as much as its darkest"
        said.append(Finding("note", "backing", text, "light it more evenly if the figure's edge looks rough"))
    if outside is not None:
        share = float(outside.mask.mean())
        text = f"{share:.0%} of the picture lies outside the backing and is cut away"
        said.append(Finding("note", "backing", text))
    return said


def on_cloths(cloths: Sequence[Swatch], missed: Sequence[str]) -> list[Finding]:
    """Return what is to be said of cloths that folds and hue leave in doubt, and of told ones not met."""
    said = []
    for colour in missed:
        text = f"nothing of the figure looks like the cloth {colour} that was told"
        said.append(Finding("caution", "cloth", text, "ghostprep inspect lists the figure's cloths"))
    for cloth in cloths:
        if cloth.sure or cloth.part < _MUCH:
            continue
        what = f"{cloth.part:.0%} of the figure looks like {cloth.colour}, and"
        if cloth.through:
            text = f"{what} is taken for thin cloth through which {cloth.through:.0%} of the backing shows"
            remedy = f"if it is solid: --solid '{cloth.colour}'; if it gets a wrong colour, tell its own: "
            remedy += "--sheer '#rrggbb'"
        else:
            text = f"{what} is taken for solid cloth, though it has some of the backing's colour"
            remedy = "if the backing shows through it, tell its own colour: --sheer '#rrggbb'"
        said.append(Finding("note", "cloth", text, remedy))
    return said


def on_glare(glare: float) -> list[Finding]:
    """Return what is to be said of the backing's light that lies over the figure; see `find_glare`."""
    if glare < _GLARING:
        return []
    text = f"the lens scatters {glare:.0%} of the backing's light over the figure; it is taken out"
    return [Finding("note", "glare", text, "shade the lens, and light the backing no more than it needs")]


DARK_FIGURE: Final = "brightness"
"""What findings about a figure that is too dark are about."""


def on_figure(figures: list[Frame], mattes: list[Frame]) -> list[Finding]:
    """Return what is to be said about the keyed figure: darkness on it is nothing on the pane."""
    lights = [luminance(codes_to_light(f[m > 200])) for f, m in zip(figures, mattes, strict=True)]
    light = np.concatenate([np.zeros(0, np.float32), *lights])
    if light.size < 50:
        text = "nothing solid is left when the backing is taken away"
        remedy = "check that the clip shows a figure, and name its backing with --backing"
        return [Finding("fault", "figure", text, remedy)]
    bright = float(np.percentile(light, 90))
    dark = float((light < _INVISIBLE).mean())
    shown = f"{bright:.1%} of white at its brighter parts"
    if bright < _INVISIBLE:
        text = f"the figure is nearly black, {shown}: the pane shows nothing"
        remedy = "light the figure; a silhouette shows when its shape is painted in light: --fill #rrggbb"
        return [Finding("fault", DARK_FIGURE, text, remedy)]
    if bright < _FAINT:
        text = f"the figure is dark, {shown}: the ghost will be faint"
        return [Finding("caution", DARK_FIGURE, text, "light the figure more, or raise --gain")]
    if dark > 0.3:
        text = f"{dark:.0%} of the figure is nearly black and will be invisible on the pane"
        return [Finding("note", DARK_FIGURE, text, "dark cloth and hair show only where light falls on them")]
    return []
