"""HEVC for media players."""

from __future__ import annotations

from ghostprep.player.attempt import Setting, Shape
from ghostprep.player.encode.common import FORMS, REPEATABLE, colour_tags, key_interval
from ghostprep.player.encode.regions import Stretches, regions_graph
from ghostprep.player.profile import Profile


def hevc_arguments(
    profile: Profile, shape: Shape, setting: Setting, regions: Stretches, *, fast: bool
) -> tuple[str, ...]:
    """Return ffmpeg's output arguments, for frames that come in as i420; see `h264_arguments`."""
    tags = colour_tags(profile.colour)
    key = key_interval(profile, shape.rate)
    tools: dict[str, object] = {
        **{"log-level": "error", "bframes": 0, "keyint": key, "min-keyint": key, "scenecut": 0},
        **{"open-gop": 0, "info": 0, "repeat-headers": 0, "weightp": 0},
    }
    if setting.ceiling and profile.bits.rate_kbps:
        tools |= {"vbv-maxrate": profile.bits.rate_kbps * 9 // 10, "vbv-bufsize": profile.bits.rate_kbps // 2}
    if not setting.plain:
        # the same as for H.264: each picture at its quantiser, no filter across the figure's rim ...
        tools |= {"qcomp": 1, "ipratio": 1, "cutree": 0, "psy-rd": 0, "psy-rdoq": 0, "sao": 0}
        tools |= {"deblock": "false"}
        tools |= {"cbqpoffs": -2, "crqpoffs": -2}
        # ... and no block larger than a region: an error reaches all through a transform
        tools |= {"ctu": 16, "max-tu-size": 16, "qg-size": 16}
        tools |= {"aq-mode": 1, "aq-strength": 0.001} if regions else {"aq-mode": 0}
    return (
        "-vf", regions_graph(regions, tags),
        "-c:v", "libx265",
        "-preset", "veryfast" if fast else "medium",
        "-profile:v", "main",
        "-crf", f"{setting.quality:g}",
        "-x265-params", ":".join(f"{name}={value}" for name, value in tools.items()),
        "-tag:v", "hvc1",
        "-bsf:v", "filter_units=remove_types=39-40",
        *REPEATABLE,
        *FORMS[profile.container],
    )  # fmt: skip
