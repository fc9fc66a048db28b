"""A second ray test that shares nothing with the code it judges: one triangle at a time.

Möller and Trumbore's test of a ray with a triangle (J. Graphics Tools 2, 1997, 21-28).

It knows a scene from its file's values alone, in the words of the scene file.
"""

from __future__ import annotations

import itertools
import math

import numpy as np

EPS = 1e-9


def box_triangles(low, high, turn=0.0, about=(0.0, 0.0)):
    """Return the 12 triangles of an upright box, turned clockwise (seen from above) about a point (x, z)."""
    corners = np.array(list(itertools.product(*zip(low, high, strict=True))), float)
    c, s = math.cos(turn), math.sin(turn)
    x, z = corners[:, 0] - about[0], corners[:, 2] - about[1]
    corners = np.column_stack([about[0] + c * x + s * z, corners[:, 1], about[1] - s * x + c * z])
    quads = [(0, 1, 3, 2), (4, 5, 7, 6), (0, 1, 5, 4), (2, 3, 7, 6), (0, 2, 6, 4), (1, 3, 7, 5)]
    return np.array([[corners[q[i]] for i in t] for q in quads for t in ((0, 1, 2), (0, 2, 3))])


def line_box(start, end, thickness, low, high, span):
    """Return the triangles of an upright board on a line of the floor, from span[0] to span[1] along it."""
    (x0, z0), (x1, z1) = start, end
    length = math.hypot(x1 - x0, z1 - z0)
    turn = -math.atan2(z1 - z0, x1 - x0)
    return box_triangles(
        (x0 + span[0], low, z0 - thickness / 2), (x0 + span[1], high, z0 + thickness / 2), turn, (x0, z0)
    ), length


def hits(starts, ends, triangles):
    """Return whether each segment (n) meets any triangle (m) between its ends."""
    found = np.zeros(len(starts), bool)
    way = ends - starts
    for a, b, c in triangles:
        e1, e2 = b - a, c - a
        p = np.cross(way, e2)
        det = p @ e1
        with np.errstate(divide="ignore", invalid="ignore"):
            inv = 1 / det
            t = starts - a
            u = np.einsum("ij,ij->i", t, p) * inv
            q = np.cross(t, e1)
            v = np.einsum("ij,ij->i", way, q) * inv
            w = q @ e2 * inv
            good = (np.abs(det) > EPS) & (u >= 0) & (v >= 0) & (u + v <= 1) & (w > 1e-7) & (w < 1 - 1e-7)
        found |= good
    return found


def front_of(scene):
    """Return the triangles of the front round the opening, at z = 0, and of the box's walls."""
    b = scene["box"]
    o = b.get("opening", {"width": b["width"], "height": b["height"], "sill": 0})
    far = 2000.0
    left, low, high = o["width"] / 2, o.get("sill", 0), o.get("sill", 0) + o["height"]
    boards = [
        ((-far, -far, -1e-3), (-left, far, 0)),
        ((left, -far, -1e-3), (far, far, 0)),
        ((-left, -far, -1e-3), (left, low, 0)),
        ((-left, high, -1e-3), (left, far, 0)),
    ]
    return [box_triangles(*board) for board in boards if board[1][1] - board[0][1] > 1e-6]


def bodies_of(scene):
    """Return the triangles of dividers and things by name."""
    found = {}
    for n, d in enumerate(scene.get("divider", []), 1):
        high = d.get("height", scene["box"]["height"])
        at, parts = 0.0, []
        _, length = line_box(d["from"], d["to"], d["thickness"], 0, 1, (0, 1))
        for door in d.get("doorways", []):
            a, b = door["at"] - door["width"] / 2, door["at"] + door["width"] / 2
            spans = [(at, a, 0, high), (a, b, 0, door.get("sill", 0))]
            spans.append((a, b, door.get("sill", 0) + door["height"], high))
            parts += [s for s in spans if s[1] - s[0] > 1e-9 and s[3] - s[2] > 1e-9]
            at = b
        parts.append((at, length, 0, high))
        found[f"divider {n}"] = np.concatenate(
            [line_box(d["from"], d["to"], d["thickness"], lo, hi, (a, b))[0] for a, b, lo, hi in parts]
        )
    for t in scene.get("thing", []):
        (x, y, z), (w, h, d) = t["at"], t["size"]
        found[t["name"]] = box_triangles(
            (x - w / 2, y, z - d / 2), (x + w / 2, y + h, z + d / 2), math.radians(t.get("turn", 0)), (x, z)
        )
    return found
