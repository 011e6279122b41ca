"""Faults put into the physics and the compiled kernels one at a time: does a test notice?

    PYTHONPATH=studies python -m pytest -s -p mutants --faults 300 --seed 1 tests/physics tests/network ...

`make mutants` runs it with the tests that docs/tests.md names. A plugin of pytest, loaded before numba: it leaves the
kernels uncompiled, collects once, sees all tests pass, and then runs them to the first failure in one fork for each
fault, which is put into the code of the function itself, so that it is met wherever the function is called. A fault
that makes the tests take more than three times their processor time counts as noticed.

With `--kept FILE` what became of each fault is appended there at once, and a fault that stands there already is not
tried again: a run that was stopped goes on. `--from N` leaves out the first N of the draw.
"""

from __future__ import annotations

import ast
import copy
import importlib
import os
import random
import resource
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import CodeType, FunctionType

import plain_kernels  # noqa: F401 - before numba
import pytest

MODULES = (
    *(f"nestwright.physics.{m}" for m in ("air", "container", "convection", "flow", "openings", "surfaces", "walls")),
    *(f"nestwright.network.{m}" for m in ("kernel", "integrate", "steady", "sparse")),
    *(f"nestwright.colony.{m}" for m in ("kernel", "caps", "likelihood", "noise")),
)
ARITHMETIC = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.Pow: ast.Mult}
COMPARISON = {
    ast.Lt: (ast.LtE, ast.Gt), ast.LtE: (ast.Lt, ast.Gt), ast.Gt: (ast.GtE, ast.Lt), ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,),
}  # fmt: skip
RUNS_AT_ONCE = 2
COST: pytest.StashKey[float] = pytest.StashKey()


@dataclass(frozen=True)
class Fault:
    """One change at one place of the source; `code` holds the changed function and `function` its dotted name."""

    number: int
    module: str
    line: int
    function: str
    before: str
    after: str
    code: CodeType
    defaults: tuple[str, ...]
    """All defaults of the function's arguments, where the fault is in one of them."""


def changes(node: ast.AST) -> Iterator[ast.AST]:
    """What may stand in a node's place: other sign, operator, comparison or number."""
    if isinstance(node, (ast.BinOp, ast.AugAssign)) and type(node.op) in ARITHMETIC:
        other = copy.deepcopy(node)
        other.op = ARITHMETIC[type(node.op)]()
        yield other
    elif isinstance(node, ast.Compare):
        for new in COMPARISON.get(type(node.ops[0]), ()):
            other = copy.deepcopy(node)
            other.ops[0] = new()
            yield other
    elif isinstance(node, ast.BoolOp):
        other = copy.deepcopy(node)
        other.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield other
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.USub, ast.Not)):
        yield copy.deepcopy(node.operand)
    elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
        new = node.value + 1 if isinstance(node.value, int) else node.value * 1.1 or 1.0
        yield ast.copy_location(ast.Constant(new), node)


def places(body: ast.AST, path: tuple[tuple[str, int | None], ...] = ()) -> Iterator[tuple]:
    """Every place below a node that can be changed, as the path that leads to it; annotations and names are left."""
    for field, value in ast.iter_fields(body):
        if field in ("annotation", "returns", "decorator_list"):
            continue
        for at, one in enumerate(value) if isinstance(value, list) else [(None, value)]:
            if isinstance(one, ast.AST):
                here = (*path, (field, at))
                for n in range(len(list(changes(one)))):
                    yield here, one, n
                yield from places(one, here)


def code_of(code: CodeType, name: str) -> CodeType:
    for part in name.split("."):
        code = next(c for c in code.co_consts if isinstance(c, CodeType) and c.co_name == part)
    return code


def faults_of(module: str) -> Iterator[tuple]:
    """(module, source path, function's place in the tree, its name, path of the place, which change)."""
    source = Path(importlib.import_module(module).__file__)
    tree = ast.parse(source.read_text(encoding="utf-8"))
    for at, node in enumerate(tree.body):
        if isinstance(node, ast.FunctionDef):
            for path, _, n in places(node):
                yield module, source, at, path, n


def make(number: int, module: str, source: Path, at: int, path: tuple, n: int) -> Fault:
    tree = ast.parse(source.read_text(encoding="utf-8"))
    function = tree.body[at]
    parent: ast.AST = function
    for field, index in path[:-1]:
        value = getattr(parent, field)
        parent = value if index is None else value[index]
    field, index = path[-1]
    value = getattr(parent, field)
    old = value if index is None else value[index]
    new = ast.copy_location(list(changes(old))[n], old)
    if index is None:
        setattr(parent, field, new)
    else:
        value[index] = new
    # a number alone tells nothing: show what it stands in
    shown = parent if isinstance(old, (ast.Constant, ast.UnaryOp)) and isinstance(parent, ast.expr) else None
    after = ast.unparse(shown or new)
    before_tree = ast.parse(source.read_text(encoding="utf-8")).body[at]
    node: ast.AST = before_tree
    for field, index in path[:-1] if shown else path:
        value = getattr(node, field)
        node = value if index is None else value[index]
    code = code_of(compile(ast.fix_missing_locations(tree), str(source), "exec"), function.name)
    defaults = tuple(ast.unparse(one) for one in function.args.defaults) if path[0][0] == "args" else ()
    return Fault(number, module, old.lineno, function.name, ast.unparse(node), after, code, defaults)


def line_of(fault: Fault) -> str:
    return f"{fault.number}\t{fault.module}:{fault.line} {fault.function}\t{fault.before}  ->  {fault.after}"


def kept(file: Path | None) -> set[str]:
    """The faults that a file of outcomes holds, as `line_of` writes them: those of changed code are others."""
    if file is None or not file.exists():
        return set()
    return {line.split("\t", 1)[1] for line in file.read_text(encoding="utf-8").splitlines()}


def put_in(fault: Fault) -> None:
    module = importlib.import_module(fault.module)
    function = getattr(module, fault.function)
    while not isinstance(function, FunctionType):
        function = function.__wrapped__
    if fault.defaults:
        # they are no part of a function's code
        function.__defaults__ = tuple(eval(default, vars(module)) for default in fault.defaults)
    function.__code__ = fault.code


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--faults", type=int, default=300, help="how many faults are drawn; 0 takes all")
    parser.addoption("--seed", type=int, default=1, help="seed of the draw")
    parser.addoption("--from", type=int, default=0, dest="first", help="how many of the draw are left out at its start")
    parser.addoption("--kept", type=Path, help="file to which outcomes are appended, and whose faults are not tried")
    parser.addoption("--only", default="", help="faults of modules whose name has this in it only")


def run_all(session: pytest.Session) -> bool:
    """All tests to the first failure; True where none fails. Keeps each one's processor time, for the next run."""
    for i, item in enumerate(session.items):
        after = session.items[i + 1] if i + 1 < len(session.items) else None
        before = time.process_time()
        item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
        item.stash[COST] = time.process_time() - before
        if session.testsfailed:
            return False
    return True


def attempt(session: pytest.Session, fault: Fault, seconds: int) -> int:
    """The process that runs the tests with one fault in."""
    child = os.fork()
    if child:
        return child
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 5))
    nothing = os.open(os.devnull, os.O_WRONLY)
    for stream in (1, 2):
        os.dup2(nothing, stream)
    # the colony knows nothing of air; what is quick comes first, since most faults end there
    colony = fault.module.startswith("nestwright.colony")
    session.items = [item for item in session.items if ("/tests/colony/" in str(item.path)) == colony]
    session.items.sort(key=lambda item: item.stash[COST])
    status = 1
    try:
        put_in(fault)
        status = 0 if run_all(session) else 1
    finally:
        os._exit(status)


def pytest_runtestloop(session: pytest.Session) -> bool:
    if session.config.option.collectonly:
        return True
    option = session.config.option
    every = [f for module in MODULES if option.only in module for f in faults_of(module)]
    drawn = random.Random(option.seed).sample(every, min(option.faults or len(every), len(every)))
    done = kept(option.kept)
    faults = [make(i, *place) for i, place in enumerate(drawn) if i >= option.first]
    faults = [fault for fault in faults if line_of(fault) not in done]
    before = sum(os.times()[:2])
    if not run_all(session):
        return True
    seconds = int(3 * (sum(os.times()[:2]) - before)) + 10
    print(
        f"\n{len(session.items)} tests, {len(every)} faults, {len(drawn)} drawn, {len(faults)} to try",
        file=sys.__stdout__,
        flush=True,
    )
    running: dict[int, Fault] = {}
    noticed: dict[str, list[int]] = {}
    total = 0

    def wait_for_one() -> None:
        nonlocal total
        child, status = os.wait()
        fault = running.pop(child)
        counts = noticed.setdefault(fault.module, [0, 0])
        counts[1] += 1
        if status:
            counts[0] += 1
            total += 1
        else:
            print(line_of(fault), file=sys.__stdout__, flush=True)
        if option.kept:
            with option.kept.open("a", encoding="utf-8") as file:
                file.write(f"{'noticed' if status else 'survived'}\t{line_of(fault)}\n")

    for fault in faults:
        running[attempt(session, fault, seconds)] = fault
        if len(running) == RUNS_AT_ONCE:
            wait_for_one()
    while running:
        wait_for_one()
    for module, (n, of) in sorted(noticed.items()):
        print(f"{module}: {n} of {of} noticed", file=sys.__stdout__)
    print(f"{total} of {len(faults)} noticed, seed {option.seed}", file=sys.__stdout__, flush=True)
    return True
