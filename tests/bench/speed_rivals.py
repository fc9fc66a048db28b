"""The same job by hand: as one graph of ffmpeg's filters, and as a script with moviepy.

Neither looks for a join, learns a plate or proves anything; both are told the backing's colour, the crop and the
stretch, and blend its end into its start over half a second.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import imageio_ffmpeg

FFMPEG = imageio_ffmpeg.get_ffmpeg_exe()
GREEN = (47, 154, 74)
BLEND_S = 0.5


def graph(clip: Path, out: Path, size: tuple[int, int], source: tuple[int, int], *, start: float, length: float,
          jump: bool) -> list[str]:  # fmt: skip
    """Return the ffmpeg command of the job.

    With ``jump`` it goes straight to the stretch, as one who knows it can; without, it keys the clip from
    its start, as one who looks for the stretch must.
    """
    width, height = source
    crop = f"crop={min(width, height * size[0] // size[1] // 2 * 2)}:{height}"
    begin = 0.0 if jump else start
    key = (
        f"hflip,{crop},scale={size[0]}:{size[1]}:force_original_aspect_ratio=decrease,format=yuva444p,"
        "chromakey=0x2f9a4a:0.12:0.05,despill=type=green:mix=0.5,format=yuva420p"
    )
    pad = f"color=black:s={size[0]}x{size[1]}:r=30[black];[black][keyed]overlay=(W-w)/2:(H-h)/2:shortest=1"
    # the blend: the last half second of the stretch over the half second before its start
    join = (
        f"split[one][two];[one]trim={begin + BLEND_S}:{begin + BLEND_S + length},setpts=PTS-STARTPTS[body];"
        f"[two]trim={begin}:{begin + 2 * BLEND_S},setpts=PTS-STARTPTS[head];"
        f"[body][head]xfade=duration={BLEND_S}:offset={length - BLEND_S},trim=0:{length},format=yuv420p[out]"
    )
    seek = ("-ss", f"{start}", "-t", f"{length + 1}") if jump else ()
    return [
        *(FFMPEG, "-v", "error", "-nostdin", "-y", *seek, "-i", str(clip)),
        *("-filter_complex", f"[0:v]{key}[keyed];{pad},{join}", "-map", "[out]"),
        *(
            "-c:v",
            "libx264",
            "-profile:v",
            "baseline",
            "-b:v",
            "700k",
            "-maxrate",
            "768k",
            "-bufsize",
            "768k",
        ),
        *("-movflags", "+faststart", str(out)),
    ]


def script(clip: Path, out: Path, size: tuple[int, int], *, start: float, length: float) -> None:
    """Do the job with moviepy."""
    from moviepy import ColorClip, CompositeVideoClip, VideoFileClip, vfx

    with VideoFileClip(str(clip), audio=False) as film:
        part = film.subclipped(start, start + length + BLEND_S)
        keyed = part.with_effects(
            [vfx.Resize(height=size[1]), vfx.MirrorX(), vfx.MaskColor(GREEN, threshold=60, stiffness=5)]
        )
        tail = keyed.subclipped(length, length + BLEND_S).with_effects([vfx.CrossFadeOut(BLEND_S)])
        black = ColorClip(size, color=(0, 0, 0), duration=length)
        shown = CompositeVideoClip(
            [black, keyed.subclipped(0, length).with_position("center"), tail.with_position("center")],
            size=size,
        ).with_duration(length)
        shown.write_videofile(
            str(out), fps=30, codec="libx264", audio=False, logger=None,
            ffmpeg_params=["-profile:v", "baseline", "-b:v", "700k", "-pix_fmt", "yuv420p"],
        )  # fmt: skip


def main() -> None:
    """Run the moviepy script as a process of its own."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("clip", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--size", nargs=2, type=int, required=True)
    parser.add_argument("--start", type=float, required=True)
    parser.add_argument("--length", type=float, required=True)
    given = parser.parse_args()
    script(given.clip, given.out, tuple(given.size), start=given.start, length=given.length)


if __name__ == "__main__":
    main()
