"""Who may use all cores: one kernel at a time.

Kernels that run on all cores let other threads of Python go on meanwhile, so that a page is answered while a forecast
is fitted. Not every threading layer of the compiler bears two such kernels at once.
"""

import threading

__all__ = ["ALL_CORES"]

ALL_CORES = threading.Lock()
