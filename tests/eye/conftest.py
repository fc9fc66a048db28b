"""A loop and its scene to preview, and a browser: Debian's Chromium, driven by the W3C WebDriver protocol."""

from __future__ import annotations

import base64
import contextlib
import json
import shutil
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

from ghostprep.clip import write_frames
from ghostprep.digest import sha256_of

STRAIGHT = urllib.request.build_opener(urllib.request.ProxyHandler({}))  # never through a proxy


class Browser:
    """One headless window; see W3C, WebDriver, section 6."""

    def __init__(self, base: str) -> None:
        self._base = base
        options = {
            "args": ["--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--mute-audio"],
        }
        wanted = {
            "browserName": "chrome",
            "goog:chromeOptions": options,
            "goog:loggingPrefs": {"browser": "ALL", "performance": "ALL"},
        }
        session = self._call("POST", "/session", {"capabilities": {"alwaysMatch": wanted}})
        self._at = f"/session/{session['sessionId']}"

    def _call(self, method: str, path: str, body: dict[str, Any] | None = None) -> Any:
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(
            self._base + path, data, {"Content-Type": "application/json"}, method=method
        )
        try:
            with STRAIGHT.open(request, timeout=60) as answer:
                return json.load(answer)["value"]
        except urllib.error.HTTPError as error:
            raise AssertionError(error.read().decode()[:800]) from None

    def open(self, page: Path, *, ready: str = "document.documentElement.dataset.ready === 'yes'") -> None:
        self.logs("browser")
        self.logs("performance")
        self._call("POST", f"{self._at}/url", {"url": page.absolute().as_uri()})
        deadline = time.monotonic() + 30
        while not self.run(f"return {ready}"):
            assert time.monotonic() < deadline, self.logs("browser")
            time.sleep(0.05)

    def run(self, script: str, *arguments: Any) -> Any:
        return self._call("POST", f"{self._at}/execute/sync", {"script": script, "args": list(arguments)})

    def wait_for(self, script: str, *arguments: Any) -> Any:
        """Run a script whose last argument is a function to call with the result."""
        return self._call("POST", f"{self._at}/execute/async", {"script": script, "args": list(arguments)})

    def resize(self, width: int, height: int) -> None:
        self.devtools(
            "Emulation.setDeviceMetricsOverride",
            {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False},
        )

    def devtools(self, command: str, parameters: dict[str, Any]) -> Any:
        return self._call("POST", f"{self._at}/goog/cdp/execute", {"cmd": command, "params": parameters})

    def press(self, *keys: str) -> None:
        strokes = [
            step
            for key in keys
            for step in ({"type": "keyDown", "value": key}, {"type": "keyUp", "value": key})
        ]
        self._call(
            "POST", f"{self._at}/actions", {"actions": [{"type": "key", "id": "keys", "actions": strokes}]}
        )

    def drag(self, start: tuple[int, int], by: tuple[int, int]) -> None:
        moves = [
            {"type": "pointerMove", "x": start[0], "y": start[1]},
            {"type": "pointerDown", "button": 0},
            {"type": "pointerMove", "x": start[0] + by[0], "y": start[1] + by[1], "duration": 60},
            {"type": "pointerUp", "button": 0},
        ]
        self._call(
            "POST", f"{self._at}/actions", {"actions": [{"type": "pointer", "id": "hand", "actions": moves}]}
        )

    def picture(self, out: Path) -> None:
        shot = self.devtools("Page.captureScreenshot", {"format": "png", "captureBeyondViewport": True})
        out.write_bytes(base64.b64decode(shot["data"]))

    def logs(self, kind: str) -> list[dict[str, Any]]:
        return self._call("POST", f"{self._at}/se/log", {"type": kind})

    def requests(self) -> list[str]:
        """Return the addresses that the page asked for since it was opened."""
        messages = [json.loads(entry["message"])["message"] for entry in self.logs("performance")]
        return [m["params"]["request"]["url"] for m in messages if m["method"] == "Network.requestWillBeSent"]

    def close(self) -> None:
        with contextlib.suppress(AssertionError, OSError):
            self._call("DELETE", self._at)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    driver = shutil.which("chromedriver")
    if driver is None or not (shutil.which("chromium") or shutil.which("google-chrome")):
        pytest.skip("chromium and chromium-driver are not installed")
    process = subprocess.Popen(
        [driver, "--port=0"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )
    try:
        assert process.stdout is not None
        port = next(
            (
                line.split("port ")[1].split(".")[0]
                for line in process.stdout
                if "successfully on port " in line
            ),
            None,
        )
        assert port, "chromedriver did not say where it listens"
        window = Browser(f"http://127.0.0.1:{port}")
        try:
            yield window
        finally:
            window.close()
    finally:
        process.terminate()
        process.wait(timeout=10)
        process.stdout.close()


SCENE = """
title = "The <hall> & \\"more\\""
scale = "1:24"
[box]
width = 110
height = 140
depth = 200
opening = { width = 70, height = 120, sill = 4 }
[viewer]
height = 70
sway = [40, 30]
[screen]
wall = "left"
centre = [-46, 24, 86]
top = "up"
raster = [320, 240]
active = [48, 36]
[ghost]
at = [0, 24, 132]
figure = "0.8 m"
feet = 7
"""
ARGUMENTS = (
    "-c:v",
    "libx264",
    "-crf",
    "16",
    "-pix_fmt",
    "yuv420p",
    "-color_range",
    "tv",
    "-colorspace",
    "bt709",
)
BITS = 6


@pytest.fixture(scope="session")
def write_loop() -> Callable[[Path, list[np.ndarray]], Path]:
    """Write frames of 320x240 as a loop of 30 frames a second."""

    def write(path: Path, frames: list[np.ndarray]) -> Path:
        write_frames(path, frames, size=(320, 240), rate=Fraction(30), arguments=ARGUMENTS)
        return path

    return write


@pytest.fixture(scope="session")
def numbered() -> Callable[[int], list[np.ndarray]]:
    """Frames that carry their number as bright and dark blocks, and a slow figure."""

    def make(count: int) -> list[np.ndarray]:
        frames = []
        for number in range(count):
            frame = np.zeros((240, 320, 3), np.uint8)
            for bit in range(BITS):
                if number >> bit & 1:
                    frame[8:40, 8 + 48 * bit : 40 + 48 * bit] = 230
            x = round(160 + 40 * np.sin(2 * np.pi * number / count))
            cv2.ellipse(frame, (x, 150), (30, 70), 0, 0, 360, (190, 200, 230), -1)
            frames.append(frame)
        return frames

    return make


@pytest.fixture(scope="module")
def folder(
    tmp_path_factory: pytest.TempPathFactory,
    write_loop: Callable[[Path, list[np.ndarray]], Path],
    numbered: Callable[[int], list[np.ndarray]],
) -> Path:
    """A loop, its report and its scene."""
    made = tmp_path_factory.mktemp("preview")
    (made / "hall.toml").write_text(SCENE)
    loop = write_loop(made / "loop.mp4", numbered(45))
    (made / "loop.json").write_text(
        json.dumps(
            {
                "output": {"frames": 45, "sha256": sha256_of(loop)},
                "loop": {"frames": 45, "join_steps": [43, 44]},
                "proofs": [
                    {"name": "flash", "value": 1.0, "unit": "a second", "limit": "at most 3", "passed": True}
                ],
                "findings": [
                    {"level": "caution", "subject": "join", "text": "</script><b>x</b>", "remedy": "<i>y</i>"}
                ],
            }
        )
    )
    return made
