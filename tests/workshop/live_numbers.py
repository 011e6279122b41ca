"""A workshop that listens for numbered readings: what the tests of kills and the study of a hundred kills share."""

import json
import time

from live_brokers import Listener

from nestwright.workshop.folder import create_workshop

MAPPING = """
format = 1
[broker]
host = "127.0.0.1"
user = "bench"
password_env = "NEST_TEST_PASSWORD"
[[topic]]
pattern = "bench/{logger}/numbers"
payload = "json"
time = "at"
time_form = "ms"
[[topic.value]]
channel = "number"
at = "n"
quantity = "other"
[[topic]]
pattern = "bench/{logger}/plain"
keep = true
[[topic.value]]
channel = "plain"
quantity = "other"
"""


def fresh(folder):
    """A workshop `w` in a folder, and the mapping beside it."""
    create_workshop(folder / "w", "UTC")
    (folder / "live.toml").write_text(MAPPING)
    return folder


def listener(folder, port, anew=False):
    """`nestwright listen` for it, at a broker of this machine."""
    return Listener(folder / "w", folder / "live.toml", "--broker", f"127.0.0.1:{port}", anew=anew)


def numbered(n, behind=100_000):
    """A message with a number and a time of its own, some ms behind now."""
    return json.dumps({"at": time.time_ns() // 1_000_000 - behind + n, "n": n}).encode()
