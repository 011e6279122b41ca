"""What the program can say of input that cannot be used, read out of its source.

A message of `InputError` and `UnitProblem`, what was found and what is allowed: each as it stands there, with {} for
what changes in it. Only of modules that the page imports, at first or second hand: no other can reach it. A text that
comes in a variable is looked for where that is set in the same function, in the tables of the module, and where a
function with such a parameter is called.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from nestwright.units import KINDS

SOURCE = Path(__file__).parents[1] / "src"
PAGE = "nestwright.web"
PARTS = (("message", 0), ("found", -1), ("allowed", -1))
RAISED: dict[str, tuple[tuple[str, int], ...]] = {
    **dict.fromkeys(("InputError", "NotKeptError", "NoticeError"), PARTS),
    "NewerFormError": (("message", 2),),
    "Finding": (("message", 1), ("found", 4), ("allowed", 5)),
    "UnitProblem": (("message", 0), ("found", 1), ("allowed", 2)),
    "Problem": (("message", 1), ("found", 2), ("allowed", 3)),
    "Unreadable": (("reason", 0), ("field", -1)),
    "PatternProblem": (("message", 0), ("allowed", 1)),
}
"""What is raised, and its parts that a person reads with the place of each among the arguments; -1: by name only."""
PAIRS = (ast.Tuple, ast.IfExp, ast.Call)
TOML = (
    "cannot declare {} twice", "cannot overwrite a value", "cannot redefine namespace {}",
    "cannot mutate immutable namespace {}", "duplicate inline table key {}",
    "escaped character is not a Unicode scalar value", "expected '=' after a key in a key/value pair",
    "expected ']' at the end of a table declaration", "expected ']]' at the end of an array declaration",
    "expected newline or end of document after a statement", "expected {}", "found invalid character {}",
    "illegal character {}", "invalid date or datetime", "invalid hex value", "invalid initial character for a key part",
    "invalid statement", "invalid value", "unclosed array", "unclosed inline table", "unescaped '\\' in a string",
    "unterminated string", "is not valid TOML: {}", "is not valid TOML: the same is told twice ({})",
)  # fmt: skip
"""What Python's own reader of TOML says, from a small letter on, and how it is told."""
IMPORTS = re.compile(r"^ *from (nestwright[\w.]*) import ([^\n(]+|\([^)]*\))", re.M)
ANOTHER = frozenset({"nestwright.workshop.alarm_rules"})
"""Has a finding of its own, whose words stand among the clauses."""
PROPERTIES = {"allowed": "nestwright.units", "range": "nestwright.units"}
"""Texts that a value makes of itself, and where."""
WORDS = frozenset({"short", "long", "aside", "upwards", "earlier", "later", "nothing"})
"""Single words that are put into others; no key among them, which a person types as it is."""


@dataclass
class Module:
    """A module's tree, the function that each part of it stands in, and its tables and functions by name."""

    name: str
    tree: ast.Module
    within: dict[ast.AST, ast.FunctionDef | None] = field(default_factory=dict)
    tables: dict[str, ast.expr] = field(default_factory=dict)
    functions: dict[str, ast.FunctionDef] = field(default_factory=dict)
    calls: list[ast.Call] = field(default_factory=list)
    imports: list[ast.ImportFrom] = field(default_factory=list)


def _file(name: str) -> Path | None:
    place = SOURCE / name.replace(".", "/")
    return next((one for one in (place.with_suffix(".py"), place / "__init__.py") if one.is_file()), None)


@cache
def sources() -> dict[str, str]:
    """The modules that the page imports, and those that these import: their texts by their names."""
    left = [f"{PAGE}.{one.stem}" for one in (SOURCE / "nestwright/web").glob("*.py")]
    left += [f"{PAGE}.pages.{one.stem}" for one in (SOURCE / "nestwright/web/pages").glob("*.py")]
    found: dict[str, str] = {}
    while left:
        name = left.pop()
        file = _file(name)
        if name not in found and file is not None:
            found[name] = file.read_text("utf-8")
            for module, names in IMPORTS.findall(found[name]):
                left += [module, *(f"{module}.{one}" for one in re.findall(r"\w+", names))]
    return found


@cache
def module_of(name: str) -> Module:
    return _module(name, ast.parse(sources()[name]))


def modules(names: Iterable[str]) -> list[Module]:
    """The modules in which one of these functions is called."""
    called = re.compile(rf"\b(?:{'|'.join(map(re.escape, names))})\(")
    return [module_of(name) for name in sorted(set(sources()) - ANOTHER) if called.search(sources()[name])]


def _module(name: str, tree: ast.Module) -> Module:
    made = Module(name, tree)

    def walk(node: ast.AST, inside: ast.FunctionDef | None) -> None:
        for child in ast.iter_child_nodes(node):
            made.within[child] = inside
            if isinstance(child, ast.Call):
                made.calls.append(child)
            elif isinstance(child, ast.ImportFrom):
                made.imports.append(child)
            elif isinstance(child, ast.FunctionDef):
                made.functions[child.name] = child
            walk(child, child if isinstance(child, ast.FunctionDef) else inside)

    walk(made.tree, None)
    for node in made.tree.body:
        if isinstance(node, ast.Assign | ast.AnnAssign) and node.value is not None:
            for target in node.targets if isinstance(node, ast.Assign) else [node.target]:
                if isinstance(target, ast.Name):
                    made.tables[target.id] = node.value
    return made


def texts() -> tuple[str, ...]:
    """Every text, sorted; none twice."""
    # what ends with a blank has something put behind it
    told = {*WORDS, *TOML, *(f"{'an' if one[0] in 'aeiou' else 'a'} {one}" for one in KINDS)}
    told |= {f"{text}{{}}" if text.endswith(" ") else text for one in modules(_sinks()) for text in _of_module(one)}
    return tuple(sorted(one for one in told if _worth(one)))


def _worth(text: str) -> bool:
    """Whether a text has words in it that a language can say otherwise. One word alone is a key or a unit."""
    words = text.replace("{}", " ")
    return text in WORDS or (" " in text.strip() and re.search(r"[A-Za-z]{2}", words) is not None)


def _of_module(module: Module) -> Iterator[str]:
    for call in module.calls:
        for part, place in _sinks().get(_called(call), ()):
            value = _value(call, part, place)
            if value is not None:
                yield from _texts(value, module, module.within.get(call), frozenset())


def _called(call: ast.Call) -> str:
    name = call.func.id if isinstance(call.func, ast.Name) else getattr(call.func, "attr", "")
    above = isinstance(call.func, ast.Attribute) and isinstance(call.func.value, ast.Call) and name == "__init__"
    return "InputError" if above else name


@cache
def _sinks() -> dict[str, tuple[tuple[str, int], ...]]:
    """Functions that hand a parameter on to what is raised: their name, and each such parameter with its place."""
    found: dict[str, set[tuple[str, int]]] = {name: set(parts) for name, parts in RAISED.items()}
    for _ in range(4):
        for module in modules(found):
            for call in module.calls:
                if _called(call) not in found:
                    continue
                inside = module.within.get(call)
                if inside is None:
                    continue
                names = [one.arg for one in (*inside.args.args, *inside.args.kwonlyargs)]
                for part, place in tuple(found[_called(call)]):
                    value = _value(call, part, place)
                    if isinstance(value, ast.Name) and value.id in names:
                        at = [one.arg for one in inside.args.args if one.arg != "self"]
                        where = at.index(value.id) if value.id in at else -1
                        found.setdefault(inside.name, set()).add((value.id, where))
    return {name: tuple(sorted(parts)) for name, parts in found.items()}


def _value(call: ast.Call, part: str, place: int) -> ast.expr | None:
    for one in call.keywords:
        if one.arg == part:
            return one.value
    return call.args[place] if 0 <= place < len(call.args) else None


def _texts(node: ast.expr, module: Module, inside: ast.FunctionDef | None, seen: frozenset[str]) -> Iterator[str]:
    """The texts that an expression may be."""
    if isinstance(node, ast.Constant):
        if isinstance(node.value, str):
            yield node.value
    elif isinstance(node, ast.JoinedStr):
        yield "".join(one.value if isinstance(one, ast.Constant) else "{}" for one in node.values)
        for one in node.values:  # a word that is put in is a text of its own
            if isinstance(one, ast.FormattedValue) and not isinstance(one.value, ast.Attribute):
                yield from _texts(one.value, module, inside, seen)
    elif isinstance(node, ast.IfExp):
        yield from _texts(node.body, module, inside, seen)
        yield from _texts(node.orelse, module, inside, seen)
    elif isinstance(node, ast.BoolOp):
        for one in node.values:
            yield from _texts(one, module, inside, seen)
    elif isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        first, then = (list(_texts(one, module, inside, seen)) or ["{}"] for one in (node.left, node.right))
        yield from (f"{one}{other}" for one in first for other in then)
    elif isinstance(node, ast.Dict):
        for one in node.values:
            yield from _texts(one, module, inside, seen)
    elif isinstance(node, ast.Tuple | ast.List):
        for one in node.elts:
            yield from _texts(one, module, inside, seen)
    elif isinstance(node, ast.Subscript):
        yield from _texts(node.value, module, inside, seen)
    elif isinstance(node, ast.Call):
        yield from _of_call(node, module, inside, seen)
    elif isinstance(node, ast.Attribute) and node.attr in PROPERTIES and node.attr not in seen:
        there = module_of(PROPERTIES[node.attr])
        for one in ast.walk(there.functions[node.attr]):
            if isinstance(one, ast.Return) and one.value is not None:
                yield from _texts(one.value, there, there.functions[node.attr], seen | {node.attr})
    elif isinstance(node, ast.Name) and node.id not in seen:
        yield from _of_name(node.id, module, inside, seen | {node.id})


def _of_call(node: ast.Call, module: Module, inside: ast.FunctionDef | None, seen: frozenset[str]) -> Iterator[str]:
    name = _called(node)
    if isinstance(node.func, ast.Attribute) and name in ("get", "format", "strip", "replace", "rstrip", "removeprefix"):
        yield from _texts(node.func.value, module, inside, seen)
        if name == "get":
            for one in node.args[1:]:
                yield from _texts(one, module, inside, seen)
    elif name in module.functions and name not in seen:
        made = module.functions[name]
        for one in ast.walk(made):
            if isinstance(one, ast.Return) and one.value is not None:
                yield from _texts(one.value, module, made, seen | {name})


def _of_name(name: str, module: Module, inside: ast.FunctionDef | None, seen: frozenset[str]) -> Iterator[str]:
    found = False
    while inside is not None and not found:
        for one in ast.walk(inside):
            targets = one.targets if isinstance(one, ast.Assign) else [one.target] if isinstance(
                one, ast.AnnAssign | ast.AugAssign | ast.NamedExpr) else []  # fmt: skip
            for target in targets:
                if isinstance(target, ast.Name) and target.id == name and one.value is not None:  # type: ignore[attr-defined]
                    found = True
                    told = _texts(one.value, module, inside, seen)  # type: ignore[attr-defined]
                    # what is put behind another text
                    yield from (f"{{}}{text}" for text in told) if isinstance(one, ast.AugAssign) else told
                elif isinstance(target, ast.Tuple) and isinstance(
                    getattr(one, "value", None), ast.Tuple | ast.IfExp | ast.Call
                ):
                    for k, part in enumerate(target.elts):
                        if isinstance(part, ast.Name) and part.id == name:
                            found = True
                            yield from _of_pair(one.value, k, module, inside, seen)  # type: ignore[attr-defined]
        inside = module.within.get(inside)
    if not found and name in module.tables:
        yield from _texts(module.tables[name], module, None, seen)
    elif not found:
        for other in module.imports:
            for alias in other.names:
                if (alias.asname or alias.name) == name and other.module:
                    there = module_of(other.module) if other.module in sources() else None
                    if there is not None and alias.name in there.tables:
                        yield from _texts(there.tables[alias.name], there, None, seen)


def _of_pair(
    value: ast.expr, place: int, module: Module, inside: ast.FunctionDef | None, seen: frozenset[str]
) -> Iterator[str]:
    """The texts of one place of a tuple, or of either of two."""
    if isinstance(value, ast.Call):
        made = module.functions.get(_called(value))
        for one in ast.walk(made) if made is not None else ():
            if isinstance(one, ast.Return) and isinstance(one.value, ast.Tuple) and place < len(one.value.elts):
                yield from _texts(one.value.elts[place], module, made, seen)
    for one in (value.body, value.orelse) if isinstance(value, ast.IfExp) else (value,):
        if isinstance(one, ast.Tuple) and place < len(one.elts):
            yield from _texts(one.elts[place], module, inside, seen)
