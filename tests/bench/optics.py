"""How exact and how fast the optics are: one table, run by hand.

python tests/bench/optics.py [--out FOLDER]
"""

from __future__ import annotations

import argparse
import importlib.util
import itertools
import json
import math
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import tmm
from rich.console import Console
from rich.table import Table

from ghostprep.errors import InputError
from ghostprep.optics import make_plan
from ghostprep.optics.fresnel import pane_reflectance
from ghostprep.optics.planning import measure
from ghostprep.optics.solve import solve
from ghostprep.scene import load_scene, parse_scene
from ghostprep.scene.model import TOPS, Scene
from ghostprep.scene.starter import starter_text

SWIVELS = (-25.0, -10.0, 0.0, 10.0, 25.0)
ANGLES = (35.0, 40.0, 45.0, 50.0, 55.0)


def ray_tracer() -> Any:
    """Return the tests' tracer of single rays."""
    file = Path(__file__).parent.parent / "optics" / "conftest.py"
    spec = importlib.util.spec_from_file_location("optics_conftest", file)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.RayTracer


def scene_of(wall: str, top: str, swivel: float, angle: float) -> Scene:
    centre = {"left": (-120, 150, 160), "right": (120, 150, 160), "floor": (0, 30, 160)}
    beside = {"left": (-20, 150, 230), "right": (20, 150, 230)}
    return Scene.model_validate(
        {
            "box": {"width": 300, "height": 300, "depth": 400},
            "screen": {
                "wall": wall,
                "top": top,
                "swivel": swivel,
                "centre": centre.get(wall, (0, 270, 160)),
                "raster": [320, 240],
                "active": [40.8, 32],
            },
            "pane": {"through": beside.get(wall, (0, 150, 230)), "angle": angle},
        }
    )


def worst_homography() -> tuple[int, float]:
    """Return how many pixels were traced and the largest distance, px."""
    tracer_kind, worst, count = ray_tracer(), 0.0, 0
    pixels = np.array(list(itertools.product(np.linspace(0, 320, 5), np.linspace(0, 240, 5))))
    for wall, tops in TOPS.items():
        for top, swivel, angle in itertools.product(tops, SWIVELS, ANGLES):
            scene = scene_of(wall, top, swivel, angle)
            plan, tracer = measure(scene), tracer_kind(scene)
            for (x, y), px in zip(plan.mount.to_ghost(pixels), pixels, strict=True):
                traced = tracer.sight_to_raster((x, y, plan.layout.ghost[2]))
                worst, count = max(worst, float(np.abs(traced - px).max())), count + 1
    return count, worst


def worst_reflectance() -> tuple[int, float]:
    """Return how many values were compared with tmm and the largest difference."""
    worst, count = 0.0, 0
    for index, angle in itertools.product((1.33, 1.49, 1.52, 1.586, 2.0), range(0, 89, 4)):
        ours = pane_reflectance(angle, index)
        for kind in ("s", "p"):
            args = [1, index, 1], [np.inf, 3e6, np.inf], ["i", "i", "i"], math.radians(angle), 550
            worst = max(worst, abs(tmm.inc_tmm(kind, *args)["R"] - getattr(ours, kind)))
            count += 1
    return count, worst


def cpu_ms(job: Callable[[], object], times: int) -> float:
    """Return the processor time of one call, ms."""
    job()
    began = time.process_time()
    for _ in range(times):
        job()
    return (time.process_time() - began) / times * 1000


def ray_ms(scene: Scene) -> float:
    """Return what following 4000 rays costs, turned once by the pane."""
    world, rng = measure(scene).world, np.random.default_rng(1)
    starts = np.tile(np.array(scene.eye), (4000, 1))
    ways = rng.uniform([-75, 0, 0], [75, 130, 200], (4000, 3)) - starts
    return cpu_ms(lambda: world.trace(starts, ways, (True,)), 20)


def solve_seconds(scene: Scene) -> float:
    """Return what a search with everything set free costs."""
    free = ["screen.wall", "screen.centre", "screen.top", "screen.swivel", "pane.angle"]
    began = time.process_time()
    solve(scene, free=free)
    return time.process_time() - began


def drawn_boxes(seed: int, count: int) -> tuple[int, int]:
    """Return how many boxes were judged, and in how many the tests' second ray test says otherwise."""
    tests = _loaded("optics_tests.test_world", "test_world.py")
    oracle = _loaded("optics_tests.oracle", "oracle.py")
    judged = wrong = 0
    for number in range(count):
        rng = np.random.default_rng((seed, number))
        values = tests.random_box(rng)
        scene = Scene.model_validate(values)
        try:
            plan = measure(scene)
        except InputError:
            continue
        opaque = np.concatenate([*oracle.front_of(values), *oracle.bodies_of(values).values()])
        screen = plan.layout.screen
        eyes, points, _ = tests.eyes_and_points(rng, scene, screen.corners())
        facing = (eyes - points) @ screen.normal > 1e-6
        seen = facing & ~oracle.hits(eyes, points + 1e-3 * screen.normal, opaque)
        judged += 1
        wrong += seen.sum() >= tests.ENOUGH and plan.sight.screen_hidden
    return judged, wrong


def _loaded(name: str, file: str) -> Any:
    folder = Path(__file__).parent.parent / "optics"
    if "optics_tests" not in sys.modules:
        package = importlib.util.spec_from_file_location(
            "optics_tests", folder / "__init__.py", submodule_search_locations=[str(folder)]
        )
        assert package is not None
        sys.modules["optics_tests"] = importlib.util.module_from_spec(package)
    spec = importlib.util.spec_from_file_location(name, folder / file)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


def main() -> None:
    """Measure, print the table, keep the numbers."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--out", type=Path, help="folder for optics.json (default: a new temporary one)")
    options.add_argument("--seed", type=int, help="draws the boxes again (default: new ones)")
    out = options.parse_args().out or Path(tempfile.mkdtemp(prefix="ghostprep-optics-"))
    out.mkdir(parents=True, exist_ok=True)
    scene = parse_scene(starter_text())
    hall = load_scene(Path(__file__).parent.parent.parent / "sample_media" / "scene.toml")
    file = out / "hall.toml"
    file.write_text(starter_text(), encoding="utf-8")
    code = "from ghostprep.cli import main; main()"
    began = time.perf_counter()
    subprocess.run([sys.executable, "-c", code, "plan", str(file)], check=True, capture_output=True)
    process = time.perf_counter() - began
    pixels, px = worst_homography()
    values, share = worst_reflectance()
    seed = options.parse_args().seed or int(time.time())
    boxes, wrong = drawn_boxes(seed, 60)
    rows = [
        ("homography against single rays", f"{pixels} pixels", f"{px:.2e} px at most", "0.01 px"),
        ("reflectance against tmm", f"{values} values", f"{share:.1e} at most", ""),
        ("plan of the starter scene", "50 times", f"{cpu_ms(lambda: make_plan(scene), 50):.1f} ms", ""),
        ("plan as a process, by the clock", "once", f"{process:.2f} s", "1 s"),
        ("plan of the sample hall", "5 times", f"{cpu_ms(lambda: make_plan(hall), 5):.1f} ms", ""),
        ("its measures alone", "5 times", f"{cpu_ms(lambda: measure(hall), 5):.1f} ms", ""),
        ("4000 rays through the sample hall", "20 times", f"{ray_ms(hall):.1f} ms", ""),
        ("solve for the starter scene", "once", f"{solve_seconds(scene):.1f} s", "20 s"),
        (f"screen seen or hidden, seed {seed}", f"{boxes} boxes drawn", f"{wrong} differ", "0"),
    ]
    table = Table(title="Optics", title_justify="left", box=None, pad_edge=False)
    for name in ("what", "over", "measured", "limit"):
        table.add_column(name)
    for row in rows:
        table.add_row(*row)
    console = Console()
    console.print(table)
    (out / "optics.json").write_text(json.dumps([list(r) for r in rows], indent=2), encoding="utf-8")
    console.print(f"written to {out}", markup=False)


if __name__ == "__main__":
    main()
