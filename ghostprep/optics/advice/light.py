"""Findings on brightness, contrast, polarisation and doubling."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from ghostprep.finding import Level
from ghostprep.optics.advice.draft import Draft, Offer
from ghostprep.optics.advice.words import Words, apart, listed, reaching, the
from ghostprep.optics.changes import with_keys
from ghostprep.optics.fresnel import pane_reflectance
from ghostprep.optics.light import DARKEST, ENOUGH_CONTRAST
from ghostprep.optics.plan import Plan
from ghostprep.scene.model import TOPS, standing_side

_HARDLY: Final = 1.1
"""A contrast below this is lost in the scenery."""
SEEN_SHARE: Final = 0.02
"""A step of 2 % of the light around it is what an eye sees in practice (about 1 % at best)."""
_WORTH_TURNING: Final = 1.2
"""A fifth more light is worth another mount."""


def findings(plan: Plan) -> Iterator[Draft]:
    """Yield what there is to say on the light."""
    yield from _contrast(plan)
    yield from _polarisation(plan)
    yield from _glow(plan)
    yield from _doubling(plan)
    for veil in plan.light.veils:
        # of scenery in the dark another finding tells
        if veil.share > SEEN_SHARE and plan.light.scenery > DARKEST:
            text = (
                f"{veil.source} lights the pane's hidden side: {the(veil.surface)}, black as it is, "
                f"still shows round the ghost at {100 * veil.share:.0f} % of the scenery"
            )
            yield Draft("caution", "light", text, "shade it towards that side, or move it behind the pane")


def _contrast(plan: Plan) -> Iterator[Draft]:
    light = plan.light
    if light.contrast >= ENOUGH_CONTRAST:
        return
    wanted = (ENOUGH_CONTRAST - 1) * light.scene
    dimmest = light.ghost / (ENOUGH_CONTRAST - 1) / light.transmittance
    told = apart(light.contrast, ENOUGH_CONTRAST, ".2f")[0]
    dim, is_lit = reaching(dimmest, light.scenery, 3)
    bright, is_bright = reaching(wanted / light.reflectance, plan.scene.screen.luminance, 3)
    ways = [
        f"scenery behind the ghost lit to {dim} cd/m2 at most (now {is_lit})",
        f"a screen of {bright} cd/m2 (now {is_bright})",
    ]
    turned = light.reflectance_other_turn / light.reflectance
    if light.ghost * turned >= wanted:
        ways.append(f"the player turned a quarter, {turned:.1f} times as bright")
    text = (
        f"ghost and scenery together are only {told} times as bright as the scenery; "
        f"{ENOUGH_CONTRAST:g} is plain to see"
    )
    level: Level = "fault" if light.contrast < _HARDLY else "caution"
    yield Draft(level, "light", text, f"what reaches it: {listed(ways, 'or')}")


def _polarisation(plan: Plan) -> Iterator[Draft]:
    light, scene = plan.light, plan.scene
    if scene.screen.polarisation == "unknown":
        both = pane_reflectance(light.incidence_deg, scene.pane.index)
        text = (
            f"the screen's polarisation is unknown: the pane sends back between {100 * both.p:.1f} and "
            f"{100 * both.s:.1f} % of its light, {100 * light.reflectance:.1f} % is taken"
        )
        remedy = (
            "look at the lit screen through polarising sunglasses and turn them until it is darkest: the "
            "light then swings along the line between the two lenses; give it as screen.polarisation"
        )
        yield Draft("note", "light", text, remedy)
    elif light.reflectance_other_turn > light.reflectance * _WORTH_TURNING:
        turned = f"{light.reflectance_other_turn / light.reflectance:.1f} times as bright"
        remedy = f"with the player a quarter turn round (screen.top) the ghost is {turned}; plan it so first"
        wall, now = scene.screen.wall, standing_side(scene.screen.wall, scene.screen.top)
        offers = tuple(
            Offer(f'set screen.top to "{top}": the ghost is {turned}', with_keys(scene, "screen", top=top))
            for top in TOPS[wall]
            if standing_side(wall, top) != now
        )
        text = "the screen's polarisation is mounted the weak way round"
        yield Draft("caution", "light", text, remedy, offers)


def _glow(plan: Plan) -> Iterator[Draft]:
    light = plan.light
    if light.scenery <= DARKEST:
        text = f"no lamp or strip lights {the(light.behind)} behind the ghost, which would float in the dark"
        remedy = "move a lamp so that its light gets there, or give light.scene if you have measured it"
        yield Draft("caution", "light", text, remedy)
    elif light.black_glow > SEEN_SHARE:
        more, now = light.black_glow / SEEN_SHARE, plan.scene.screen.contrast
        least, contrast = (reaching(value * more, value, 3)[0] for value in (light.scenery, now))
        glow = apart(100 * light.black_glow, 100 * SEEN_SHARE, ".1f")[0]
        text = (
            f"the screen's black glows at {glow} % of the scenery behind it: from about "
            f"{100 * SEEN_SHARE:.0f} % on a grey rectangle floats round the figure"
        )
        ways = [f"take a screen with a contrast of {contrast}", "mask what the figure never fills"]
        if now * SEEN_SHARE >= ENOUGH_CONTRAST - 1:  # else so much light would drown the figure
            ways.insert(0, f"light the scenery to {least} cd/m2")
        yield Draft("caution", "light", text, ", or ".join(ways))


def _doubling(plan: Plan) -> Iterator[Draft]:
    doubling, words = plan.doubling, Words(plan.scene.units)
    if doubling.arcminutes >= 1:
        text = (
            f"its back face doubles the figure {words(doubling.offset_mm)} ({doubling.offset_px:.1f} px) "
            f"aside, {doubling.arcminutes:.1f} arcminutes to the eye, {100 * doubling.ratio:.0f} % as bright"
        )
        vanishing = f"below {words.fine(doubling.vanishing_mm)} (film) the doubling vanishes"
        yield Draft("caution", "pane", text, f"a thinner sheet brings the two together; {vanishing}")
