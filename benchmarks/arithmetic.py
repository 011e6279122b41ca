"""A lower bound of a computation: what its exponentials, roots and eliminations alone would take on this machine.

Each compiled function can be run as plain Python, with the functions of `math` counted. The counts times the seconds
that each of these takes compiled, one after the other in a loop with nothing else to do, are a time below which the
same method cannot come: sums, memory and the order of things are left out. Rates and counts are taken in the run that
uses them.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

HERE = Path(__file__).parent
COUNTED = ("exp", "log", "sqrt", "erfc", "lgamma", "sin", "cos")


def processor_seconds(task: Callable[[], Any], repeat: int = 5) -> float:
    """Least seconds of the processor, all threads together, of a task run once before: others use the machine too."""
    task()
    best = float("inf")
    for _ in range(repeat):
        began = time.process_time()
        task()
        best = min(best, time.process_time() - began)
    return best


def machine() -> dict[str, float]:
    """Seconds of one call of each counted function and of one multiply-and-add, compiled; bytes copied per second."""
    import math

    import numba as nb
    import numpy as np

    n = 200_000
    x = np.linspace(0.5, 2.0, n)

    def rate(name: str) -> float:
        function = getattr(math, name)

        @nb.njit
        def loop(x: Any, out: Any) -> None:
            for i in range(x.size):
                out[i] = function(x[i])

        out = np.empty(n)
        return processor_seconds(lambda: loop(x, out), 7) / n

    @nb.njit
    def eliminate(rows: Any, k: Any) -> None:
        for i in range(k.size):
            for j in range(rows.shape[1]):
                rows[i, j] -= k[i] * rows[0, j]

    rows, k = np.ones((2000, 100)), np.full(2000, 1e-9)
    rates = {name: rate(name) for name in COUNTED}
    rates["multiply"] = processor_seconds(lambda: eliminate(rows, k), 7) / rows.size
    whole = np.zeros(20_000_000)
    rates["bytes"] = whole.nbytes / processor_seconds(whole.copy, 3)
    return rates


def bound(counts: dict[str, float], rates: dict[str, float]) -> float:
    """Seconds of the counted functions and multiplications alone."""
    return sum(n * rates[name] for name, n in counts.items())


def counted(case: str) -> dict[str, float]:
    """Calls of each counted function in one run of a case of `cases`, in a process that compiles nothing."""
    environment = os.environ | {"NUMBA_DISABLE_JIT": "1"}
    done = subprocess.run(
        [sys.executable, str(HERE / "arithmetic.py"), case], env=environment, check=True, capture_output=True, text=True
    )
    return dict(json.loads(done.stdout.splitlines()[-1]))


def _count(case: str) -> dict[str, float]:
    import math

    import cases
    from nestwright.network import integrate, steady

    found = dict.fromkeys((*COUNTED, "multiply"), 0)
    run = cases.CASES[case]()

    def noting(name: str, function: Callable[..., Any], amount: Callable[..., int]) -> Callable[..., Any]:
        def call(*given: Any) -> Any:
            found[name] += amount(*given)
            return function(*given)

        return call

    for name in COUNTED:
        setattr(math, name, noting(name, getattr(math, name), lambda *_: 1))
    for module in (integrate, steady):
        module.factorise = noting("multiply", module.factorise, lambda p, *_: len(p.target))
        module.solve = noting("multiply", module.solve, lambda p, *_: int(p.row_start[-1]))
    run()
    return {name: n for name, n in found.items() if n}


if __name__ == "__main__":
    print(json.dumps(_count(sys.argv[1])))
