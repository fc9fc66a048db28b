"""The keying bench: our key against the truth, beside an oracle and general tools.

    python tests/bench/keying.py [--out FOLDER] [--only WORD] [--quick]

Prints one table and writes it, the settings that were best for each tool, and pictures to the folder.
Settings, theirs and ours, were chosen on other figures, other backings and other motion than are scored.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from keying_clips import Made, Recipe, backing_light, make
from keying_real import real_clips, sheet
from keying_rivals import Rival, best_rivals, closed_form
from keying_scores import lost_in, oracle, score
from rich.console import Console
from rich.table import Table

from ghostprep.picture import Key, learn_key
from ghostprep.transfer import light_to_codes

SCORED = [
    Recipe("green painted", "painted2", "#2f9a4a", seed=21, expected=("green",)),
    Recipe("green photograph", "astronaut", "#2f9a4a", seed=21, expected=("green",)),
    Recipe("red scarf, green", "painted2 #b02a2a", "#2f9a4a", seed=34, expected=("green",)),
    Recipe("blue scarf, green", "painted2 #3848b0", "#2f9a4a", seed=35, expected=("green",)),
    Recipe("red scarf, blue", "painted2 #b02a2a", "#2746a8", seed=36, expected=("blue",)),
    Recipe("green, drawn", "painted2", "#2f9a4a", linear=False, seed=22, expected=("green",)),
    Recipe("blue painted", "painted2", "#2746a8", seed=23, expected=("blue",)),
    Recipe("blue photograph", "astronaut", "#2746a8", seed=23, expected=("blue",)),
    Recipe("yellow-green painted", "painted2", "#9aa832", seed=24, expected=("colour",)),
    Recipe("yellow-green photograph", "astronaut", "#9aa832", seed=24, expected=("colour",)),
    Recipe("magenta painted", "painted2", "#a03078", seed=25, expected=("colour",)),
    Recipe("magenta photograph", "astronaut", "#a03078", seed=25, expected=("colour",)),
    Recipe("red cloth", "painted2", "#b02a2a", seed=32, expected=("colour",)),
    Recipe("plate given, painted", "painted2", "room", seed=26, spill=0, edge_spill=0, expected=("plate",)),
    Recipe(
        "plate given, photograph", "astronaut", "room", seed=26, spill=0, edge_spill=0, expected=("plate",)
    ),
    Recipe(
        "plate found",
        "painted2",
        "room",
        seed=26,
        spill=0,
        edge_spill=0,
        walk=True,
        still=0,
        expected=("plate",),
    ),
    Recipe("dark painted", "painted2", "#0c0d0f", seed=27, expected=("black",)),
    Recipe("dark photograph", "astronaut", "#0c0d0f", seed=27, expected=("black",)),
    Recipe("white painted", "painted2", "#dcdcd8", seed=28, expected=("white",)),
    Recipe("cloth between stands", "painted2", "#2f9a4a", seed=29, stands=True, expected=("green",)),
    Recipe("moving camera", "painted2", "moving", seed=30, expected=("green",)),
    Recipe("flat, drawn, no noise", "painted2", "#00b140", False, 0, 0, 0, 0, seed=31, expected=("green",)),
    Recipe(
        "dark figure on green",
        "painted2",
        "#2f9a4a",
        gain=0.01,
        spill=0,
        edge_spill=0,
        seed=33,
        expected=("green",),
    ),
]
TUNING = {"painted2": "painted1", "astronaut": "chelsea"}
KINDS = {
    "black": "black",
    "white": "white",
    "plate": "plate",
    "colour": "colour",
    "green": "green",
    "blue": "blue",
}
OLIVE = ((95, 100, 30), (165, 170, 95))
TEAL = ((10, 85, 85), (75, 160, 165))
SKIN = ((170, 120, 90), (235, 190, 160))


def glimpses(frames: np.ndarray) -> list[np.ndarray]:
    """Return 32 frames over the whole clip, as the survey takes them."""
    return list(frames[np.linspace(0, len(frames) - 1, 32).astype(int)])


def our_key(made: Made) -> Key:
    """Learn the key as `make` does, without an option; with the plate where the clip is to have one."""
    given = made.plate if made.recipe.name.startswith("plate given") else None
    return learn_key(glimpses(made.frames), plate=given)


def keyed(key: Key, made: Made) -> Rival:
    """Key all frames; the time is this thread's CPU time."""
    size = (made.frames.shape[2], made.frames.shape[1])
    keyer = key.at(None, size, size)
    figures, mattes, times = [], [], []
    for frame in made.frames:
        before = time.thread_time()
        out = keyer(frame)
        times.append(time.thread_time() - before)
        figures.append(out.codes)
        mattes.append(out.matte)
    return Rival(
        "ghostprep", "none given", np.stack(figures), np.stack(mattes), 1e3 * float(np.median(times))
    )


def at_half_size(key: Key, made: Made) -> float:
    """Return the CPU time a frame at 320x240, ms."""
    size = (made.frames.shape[2], made.frames.shape[1])
    keyer = key.at(None, size, (320, 240))
    times = []
    for frame in made.frames:
        small = cv2.resize(frame, (320, 240), interpolation=cv2.INTER_AREA)
        before = time.thread_time()
        keyer(small)
        times.append(time.thread_time() - before)
    return 1e3 * float(np.median(times))


def picture(path: Path, made: Made, rivals: list[Rival]) -> None:
    """Write one frame: clip, truth, then what each tool makes of it, with its errors six times enlarged below."""
    i = 20 if made.recipe.still else 30
    top = [made.frames[i], made.truth[i], *(r.figures[i] for r in rivals)]
    low = [np.zeros_like(made.frames[i])] * 2
    low += [
        np.clip(np.abs(r.figures[i].astype(int) - made.truth[i]) * 6, 0, 255).astype(np.uint8) for r in rivals
    ]
    sheet = np.vstack([np.hstack(top), np.hstack(low)])
    cv2.imwrite(str(path), cv2.resize(sheet, None, fx=0.6, fy=0.6, interpolation=cv2.INTER_AREA)[..., ::-1])


def bench(recipe: Recipe, folder: Path, *, quick: bool) -> list[dict[str, object]]:
    """Score one clip; return the rows of the table."""
    made = make(recipe, folder)
    plates = None
    if recipe.backing == "moving":
        plates = np.stack([light_to_codes(backing_light(recipe, i)) for i in range(recipe.frames)])
    key = our_key(made)
    ours = keyed(key, made)
    floor = Rival("oracle", "true matte and plate", *oracle(made, plates), float("nan"))
    rivals = [floor, ours]
    kind = KINDS[recipe.expected[0]]
    if (
        not quick
        and recipe.noise
        and recipe.gain == 1
        and not (recipe.stands or recipe.walk or plates is not None)
    ):
        tune = make(
            replace(
                recipe,
                name="tune " + recipe.name,
                figure=TUNING[recipe.figure.split()[0]],
                seed=recipe.seed - 20,
            ),
            folder,
        )
        rivals += best_rivals(kind, tune, made)
    rows: list[dict[str, object]] = []
    lowest = score(made, floor.figures, floor.mattes)
    for one in rivals:
        got = score(made, one.figures, one.mattes)
        cloth = {
            n: lost_in(made, one.figures, *r) for n, r in (("olive", OLIVE), ("teal", TEAL), ("skin", SKIN))
        }
        rows.append(
            {
                "clip": recipe.name,
                "tool": one.name,
                "settings": one.settings,
                "ms": one.frame_ms,
                **got,
                **cloth,
                "mse_ratio": got["mse"] / lowest["mse"],
                "edge_ratio": got["edge"] / lowest["edge"],
                "flicker_ratio": got["flicker"] / lowest["flicker"],
            }
        )
    told = key.backing
    rows[1]["settings"] = f"{told.kind} {told.colour or ''} {told.confidence:.2f}, {told.mix or ''}"
    rows[1]["right"] = told.kind in recipe.expected or recipe.name.startswith("plate given")
    rows[1]["ms_320x240"] = at_half_size(key, made)
    rows[1]["findings"] = [f"{f.level}: {f.text}" for f in key.remarks]
    if not quick and recipe.name in ("green painted", "blue photograph", "plate given, photograph"):
        which = [8, 20, 32]
        one = closed_form(made, which)
        got = score(made, one.figures, one.mattes, which)
        low = score(made, floor.figures[which], floor.mattes[which], which)
        rows.append(
            {
                "clip": recipe.name,
                "tool": one.name,
                "settings": "3 frames",
                "ms": one.frame_ms,
                **got,
                "mse_ratio": got["mse"] / low["mse"],
                "edge_ratio": got["edge"] / low["edge"],
            }
        )
    picture(folder / f"{recipe.name.replace(' ', '-').replace(',', '')}.png", made, rivals)
    return rows


def table_of(rows: list[dict[str, object]]) -> Table:
    """Return the table; ratios are to the oracle of the same clip."""
    table = Table(title="Keying, 640x480; ratios are to the oracle (true matte and plate)")
    columns = (
        "mse",
        "mse_ratio",
        "edge",
        "edge_ratio",
        "sad",
        "back",
        "flicker_ratio",
        "lost",
        "olive",
        "teal",
        "skin",
        "ms",
    )
    for name in ("clip", "tool", *columns, "settings"):
        table.add_column(
            name.replace("_ratio", " x"), justify="left" if name in ("clip", "tool", "settings") else "right"
        )
    last = ""
    for row in rows:
        cells = ["" if (v := row.get(c)) is None or v != v else f"{v:.2f}" for c in columns]
        table.add_row(
            str(row["clip"]) if row["clip"] != last else "", str(row["tool"]), *cells, str(row["settings"])
        )
        last = str(row["clip"])
    return table


def main() -> None:
    """Run the bench."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, default=None, help="folder for the table and the pictures")
    parser.add_argument("--only", default="", help="only clips whose name holds this word")
    parser.add_argument("--quick", action="store_true", help="only the oracle and our key")
    asked = parser.parse_args()
    cv2.setNumThreads(1)
    folder = asked.out or Path(tempfile.mkdtemp(prefix="keying-"))
    folder.mkdir(parents=True, exist_ok=True)
    rows: list[dict[str, object]] = []
    for recipe in SCORED:
        if asked.only in recipe.name:
            rows += bench(recipe, folder, quick=asked.quick)
            print(f"{recipe.name}: done", file=sys.stderr, flush=True)
    console = Console(width=220, record=True)
    console.print(table_of(rows))
    ours = [r for r in rows if r["tool"] == "ghostprep"]
    wrong = [str(r["clip"]) for r in ours if not r["right"]]
    console.print(
        f"backing told right on {len(ours) - len(wrong)} of {len(ours)} clips; wrong: {', '.join(wrong) or 'none'}"
    )
    half = float(np.median([r["ms_320x240"] for r in ours]))
    console.print(
        f"CPU a frame, median over clips: {np.median([r['ms'] for r in ours]):.1f} ms at 640x480, {half:.1f} ms at 320x240"
    )
    for row in ours:
        for finding in row["findings"]:  # type: ignore[attr-defined]
            console.print(f"{row['clip']}: {finding}")
    if not asked.only:
        for name, path, plate in real_clips():
            told = sheet(path, folder / f"real-{name}.png", plate=plate)
            console.print(f"{name}: {told.backing.kind} {told.backing.confidence:.2f}, {told.backing.reason}")
    (folder / "table.txt").write_text(console.export_text(), encoding="utf-8")
    (folder / "table.json").write_text(json.dumps(rows, indent=1), encoding="utf-8")
    print(f"table and pictures: {folder}", file=sys.stderr)


if __name__ == "__main__":
    main()
