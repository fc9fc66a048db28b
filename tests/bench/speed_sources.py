"""The clips of the speed bench: the sample's purser before green cloth, enlarged, with a camera's noise."""

from __future__ import annotations

import subprocess
from pathlib import Path

import imageio_ffmpeg

FFMPEG = imageio_ffmpeg.get_ffmpeg_exe()
SAMPLE = Path(__file__).parents[2] / "sample_media" / "purser_green.mp4"

# bit rates and key frames of telephones: a clip that is easy to decode would flatter nobody but the decoder
_H264 = ("-c:v", "libx264", "-preset", "veryfast", "-g", "30", "-b:v", "14M", "-pix_fmt", "yuv420p")
_HEVC = (
    *("-c:v", "libx265", "-preset", "ultrafast", "-g", "30", "-b:v", "45M", "-pix_fmt", "yuv420p10le"),
    *("-tag:v", "hvc1", "-x265-params", "log-level=error"),
)
_BT709 = ("-color_primaries", "bt709", "-color_trc", "bt709", "-colorspace", "bt709")


def clip(folder: Path, seconds: int, *, size: tuple[int, int] = (1920, 1080), deep: bool = False) -> Path:
    """Return a clip of so many seconds at 30 frames a second; made once, then kept in `folder`."""
    path = folder / f"{'hevc10' if deep else 'h264'}_{size[1]}p30_{seconds}s.mp4"
    if path.exists():
        return path
    part = path.with_suffix(".part.mp4")
    if seconds > 60:
        # the same minute again and again, copied: coding ten of them would take an age
        minute = clip(folder, 60, size=size, deep=deep)
        _ffmpeg("-stream_loop", "-1", "-i", str(minute), "-t", str(seconds), "-c", "copy", str(part))
    else:
        grown = f"scale={size[0]}:{size[1]}:flags=bicubic,noise=alls=8:allf=t"
        coder = _HEVC if deep else _H264
        _ffmpeg(
            *("-stream_loop", "-1", "-i", str(SAMPLE), "-t", str(seconds), "-vf", grown),
            *(*coder, *_BT709, "-an", str(part)),
        )
    return part.replace(path)


def _ffmpeg(*arguments: str) -> None:
    subprocess.run([FFMPEG, "-v", "error", "-nostdin", "-y", *arguments], check=True)
