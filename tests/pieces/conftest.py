"""A scheduler and workers of a cluster, each a process of its own."""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest


class Running:
    """A scheduler and what was started beside it."""

    def __init__(self, folder):
        self.file, self.started = folder / "scheduler.json", []
        self.scheduler = self.start("dask_scheduler", "--port", "0", "--no-dashboard", "--host", "127.0.0.1")
        for _ in range(600):
            try:
                self.address = json.loads(self.file.read_text())["address"]
                break
            except (FileNotFoundError, json.JSONDecodeError):
                time.sleep(0.1)

    def start(self, name, *more):
        command = [sys.executable, "-m", f"distributed.cli.{name}", "--scheduler-file", str(self.file), *more]
        path = os.pathsep.join([str(Path(__file__).parent), os.environ.get("PYTHONPATH", "")])
        one = subprocess.Popen(
            command, env=os.environ | {"PYTHONPATH": path}, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        self.started.append(one)
        return one

    def worker(self):
        return self.start("dask_worker", "--no-nanny", "--nthreads", "1", "--no-dashboard", "--host", "127.0.0.1")

    def end(self):
        for one in reversed(self.started):
            one.kill()
            one.wait()


@pytest.fixture(scope="session")
def cluster(tmp_path_factory):
    running = Running(tmp_path_factory.mktemp("cluster"))
    try:
        running.worker(), running.worker()
        yield running
    finally:
        running.end()
