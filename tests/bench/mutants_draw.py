"""The small mistakes that a file's code has room for.

Numbers are made a third larger, those of the key three times as large: its limits lie between what noise leaves and what a
figure shows, on a plateau that is made as wide as possible, where a third more moves nothing that anybody could see.

Not drawn is what changes no outcome by its kind: texts, errors and findings, types, how much is kept, read or waited for at
once (constants named so), how many rounds an iteration gets that settles before, how finely a smooth thing is sampled, and to
how many digits something is rounded.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

TURNED = {
    ast.Lt: ast.GtE, ast.LtE: ast.Gt, ast.Gt: ast.LtE, ast.GtE: ast.Lt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
MOVED = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}
SWAPPED = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult, ast.BitAnd: ast.BitOr,
}  # fmt: skip
LEFT_OUT = {
    "fsync",
    "flush",
    "flush_folder",
    "replace",
    "rename",
    "unlink",
    "append",
    "extend",
    "add",
    "update",
    "sort",
    "clip",
}
"""Calls that stand as a statement of their own and change something."""
ON_A_PLATEAU = {("picture", "key"), ("picture", "learn")}
"""Folders whose numbers are limits of an estimate."""


@dataclass(frozen=True, slots=True)
class Mistake:
    """One change of the code."""

    file: Path
    line: int
    start: int
    end: int
    right: str
    wrong: str
    once: bool
    """Whether it is run once for all tests, at import or in a function that keeps its result."""
    room: str = ""

    def of(self, room: str) -> Mistake:
        """Return the mistake with its room's name."""
        return replace(self, room=room)

    def apply(self, source: str) -> str:
        """Return the file's text with the mistake in it."""
        data = source.encode()
        return (data[: self.start] + self.wrong.encode() + data[self.end :]).decode()

    def __str__(self) -> str:
        """Return where it is, and what became what."""
        return f"{self.room} {self.file.name}:{self.line}  {' '.join(self.right.split())}  ->  {' '.join(self.wrong.split())}"


def mistakes_in(file: Path) -> list[Mistake]:
    """Return every mistake that the file has room for, one at a time."""
    source = file.read_text(encoding="utf-8")
    data = source.encode()
    starts = [0]
    for line in data.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    found = []
    tree = ast.parse(source)
    often = _run_often(tree)
    larger = 3.0 if file.parts[-3:-1] in ON_A_PLATEAU else 1.34
    for node, wrong in _changes(tree, larger):
        start = starts[node.lineno - 1] + node.col_offset
        end = starts[(node.end_lineno or 0) - 1] + (node.end_col_offset or 0)
        right = data[start:end].decode()
        text = wrong if isinstance(wrong, str) else f"({ast.unparse(wrong)})"
        found.append(Mistake(file, node.lineno, start, end, right, text, node.lineno not in often))
    return found


def _run_often(tree: ast.Module) -> set[int]:
    """Return the lines inside functions that keep no result."""
    lines: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and not any(
            "cache" in ast.unparse(d) for d in node.decorator_list
        ):
            lines.update(range(node.body[0].lineno, (node.end_lineno or 0) + 1))
    return lines


def _changes(tree: ast.Module, larger: float) -> Iterator[tuple[ast.expr, ast.expr | str]]:
    for node in _deciding(tree):
        match node:
            case ast.Compare(ops=[one]) if type(one) in TURNED:
                yield node, ast.Compare(node.left, [TURNED[type(one)]()], node.comparators)
                # among floats a boundary is hit by nobody; among counts it is where mistakes are made
                sides = [node.left, *node.comparators]
                if type(one) in MOVED and any(map(_counts, sides)) and not any(map(_measures, sides)):
                    yield node, ast.Compare(node.left, [MOVED[type(one)]()], node.comparators)
            case ast.BinOp() if type(node.op) in SWAPPED and not _text(node):
                yield node, ast.BinOp(node.left, SWAPPED[type(node.op)](), node.right)
            case ast.BoolOp(op=ast.And()):
                yield node, ast.BoolOp(ast.Or(), node.values)
            case ast.BoolOp(op=ast.Or()):
                yield node, ast.BoolOp(ast.And(), node.values)
            case ast.UnaryOp(op=ast.Not()):
                yield node, node.operand
            case ast.UnaryOp(op=ast.USub()) if not isinstance(node.operand, ast.Constant):
                yield node, node.operand
            case ast.Constant(value=bool(value)):
                yield node, str(not value)
            case ast.Constant(value=int(value)) if value > 1:
                yield node, str(max(int(value * larger), value + 1))
            case ast.Constant(value=float(value)) if abs(value) > 1e-6 and value != 1:
                # a guard against a division by nothing decides nothing
                yield node, f"{value * larger:.6g}"
            case ast.Call(func=ast.Name("min")):
                yield node, ast.Call(ast.Name("max"), node.args, node.keywords)
            case ast.Call(func=ast.Name("max")):
                yield node, ast.Call(ast.Name("min"), node.args, node.keywords)
            case ast.Expr(value=ast.Call(func=ast.Attribute(attr=name)) as call) if name in LEFT_OUT:
                yield call, "None"


def _counts(node: ast.expr) -> bool:
    return (isinstance(node, ast.Constant) and type(node.value) is int) or (
        isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "len"
    )


def _measures(node: ast.expr) -> bool:
    """Whether a value is plainly a float: a quotient, a product of vectors, or one that is made a float."""
    return any(
        isinstance(part, ast.Div | ast.MatMult)
        or (isinstance(part, ast.Call) and isinstance(part.func, ast.Name) and part.func.id == "float")
        or (isinstance(part, ast.Constant) and type(part.value) is float)
        for part in ast.walk(node)
    )


def _text(node: ast.BinOp) -> bool:
    parts = [node.left, node.right]
    return any(
        isinstance(p, ast.JoinedStr | ast.List) or (isinstance(p, ast.Constant) and isinstance(p.value, str))
        for p in parts
    )


def _guards(node: ast.expr) -> bool:
    """Whether the lower bound of a value is there so that nobody divides by nothing."""
    return isinstance(node, ast.Constant) and type(node.value) is float and 0 < node.value <= _NEXT_TO_NOTHING


_NEXT_TO_NOTHING = 1e-3
_UNREAD = {
    "lru_cache",
    "cache",
    "dataclass",
    "TypeVar",
    "option",
    "argument",
    "command",
    "Field",
    "field",
    "warn",
}

_ONLY_COSTS = re.compile(
    r"(?<!MAX)(?<!MOST)_BYTES$|_KEPT$|_AT_ONCE$|_PARTS$|_CHUNK$|ROUNDS$|(STALL|SETTLE|PATIENCE|SWALLOWED)_S$"
)

_SAMPLES = {"linspace": 2, "round": 1}
"""Calls of which only so many of the first arguments decide something."""


def _deciding(node: ast.AST) -> Iterator[ast.AST]:
    """Yield the nodes that decide an outcome: no annotations, no imports under TYPE_CHECKING, no texts, no decorators."""
    match node:
        case ast.JoinedStr() | ast.Raise() | ast.Assert():
            return
        case ast.If(test=ast.Name("TYPE_CHECKING")):
            return
        case ast.Call(func=ast.Name(name) | ast.Attribute(attr=name)) if name in _UNREAD or name.endswith(
            ("Error", "Finding")
        ):
            return
        case ast.arg():
            return
        case ast.AnnAssign(value=None):
            return
        case ast.Assign(targets=[ast.Tuple(names)], value=ast.Tuple(values)) if len(names) == len(values):
            for name, one in zip(names, values, strict=True):
                if not _ONLY_COSTS.search(ast.unparse(name)):
                    yield from _deciding(one)
            return
        case ast.AnnAssign(target=ast.Name(name)) | ast.Assign(targets=[ast.Name(name)]) if (
            _ONLY_COSTS.search(name)
        ):
            return
        case ast.AnnAssign(
            target=ast.Name(), value=ast.UnaryOp(op=ast.USub(), operand=ast.Constant(value=int()))
        ):
            return  # a count or a size is not negative: it is a label
        case ast.keyword(arg="strict" | "slots" | "frozen" | "kw_only" | "check" | "daemon"):
            return
    if isinstance(node, ast.expr | ast.stmt):
        yield node
    if isinstance(node, ast.Call) and ast.unparse(node.func) in {"np.maximum", "max"}:
        node = ast.Call(node.func, [arg for arg in node.args if not _guards(arg)], node.keywords)
    most = _SAMPLES.get(ast.unparse(node.func).removeprefix("np.")) if isinstance(node, ast.Call) else None
    for name, value in ast.iter_fields(node):
        if name == "iter" and isinstance(node, ast.For) and ast.unparse(node.target) == "_":
            continue
        if name in {"annotation", "returns", "decorator_list", "slice_type"} or (name == "bases"):
            continue
        parts = value if isinstance(value, list) else [value]
        for child in parts[:most] if name == "args" else parts:
            if isinstance(child, ast.AST):
                yield from _deciding(child)
