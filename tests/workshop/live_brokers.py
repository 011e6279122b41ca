"""Real brokers, publishers and listeners for the tests of live readings."""

import atexit
import contextlib
import os
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import paho.mqtt.client as mqtt
from argon2 import PasswordHasher

from forked import Forked

MOSQUITTO = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
PASSWORD = "only for tests"
BROKERS = ["amqtt", *(["mosquitto"] if MOSQUITTO else [])]

_AMQTT = """
import asyncio, logging, sys
from amqtt.broker import Broker
logging.disable(logging.CRITICAL)
config = {
    "listeners": {"default": {"type": "tcp", "bind": f"127.0.0.1:{sys.argv[1]}"}},
    "plugins": {"amqtt.plugins.authentication.FileAuthPlugin": {"password_file": sys.argv[2]}},
}
async def run():
    broker = Broker(config)
    await broker.start()
    await asyncio.Event().wait()
asyncio.run(run())
"""


def free_port():
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


def wait_for(true, seconds=20.0):
    """Whether something became true in time."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if true():
            return True
        time.sleep(0.05)
    return bool(true())


class RealBroker:
    """A broker in a process of its own, on one port through all its starts."""

    def __init__(self, kind, folder):
        self.kind, self.folder, self.port = kind, Path(folder), free_port()
        self.process = None
        self.start()

    def start(self):
        if self.kind == "mosquitto":
            settings = self.folder / "mosquitto.conf"
            settings.write_text(
                f"listener {self.port} 127.0.0.1\nallow_anonymous true\npersistence true\n"
                f"persistence_location {self.folder}/\n"
                "max_queued_messages 0\n"
            )
            self.folder.chmod(0o777)  # started by root it becomes another user
            command = [MOSQUITTO, "-c", str(settings)]
        else:
            # it keeps messages for clients with a user only
            users = self.folder / "users"
            users.write_text(f"bench:{PasswordHasher(time_cost=1, memory_cost=64).hash(PASSWORD)}\n")
            command = [sys.executable, "-c", _AMQTT, str(self.port), str(users)]
        self.process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        assert wait_for(self._answers), "the broker did not start"

    def _answers(self):
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", self.port), 1):
            return True
        return False

    def stop(self):
        self.process.send_signal(signal.SIGTERM)
        self.process.wait(20)

    def kill(self):
        self.process.kill()
        self.process.wait(20)


class Publisher:
    """Sends with QoS 1; `wait` until the broker has all of it."""

    def __init__(self, port):
        self.client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, client_id=f"sensor-{port}", clean_session=True)
        self.client.username_pw_set("bench", PASSWORD)
        self.client.max_inflight_messages_set(20)
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        self.sent = []

    def send(self, topic, payload, qos=1, retain=False):
        self.sent.append(self.client.publish(topic, payload, qos, retain))

    def wait(self, seconds=20.0):
        for one in self.sent:
            one.wait_for_publish(seconds)
        assert all(one.is_published() for one in self.sent)

    def close(self):
        self.client.disconnect()
        self.client.loop_stop()


PATIENCE = 1.5
"""Seconds in place of a listener's own patience, where a test waits for its end."""


def impatient():
    """In the listener's process: readings that are posted and cannot be written are given up soon."""
    from nestwright.workshop import live_door

    own = live_door.live_value
    live_door.live_value = lambda name: PATIENCE if name == "request_patience" else own(name)


class Listener:
    """`nestwright listen` in a process of its own, which calls `first` before; `anew` starts the command itself, which
    takes a second."""

    def __init__(self, workshop, *arguments, password=PASSWORD, anew=False, first=None):
        command = ["listen", *map(str, arguments), "--workshop", str(workshop), "--every", "1"]
        env = {**os.environ, "NEST_TEST_PASSWORD": password}
        if anew:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "nestwright", *command],
                stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=env,
            )  # fmt: skip
        else:
            self.process = Forked(*command, env=env, first=first)
        atexit.register(self.process.kill)  # a test that fails leaves none behind

    def kill(self):
        self.process.kill()
        self.process.communicate()

    def end(self, seconds=30):
        """Ctrl-C; exit code and everything it said."""
        self.process.send_signal(signal.SIGINT)
        said = self.process.communicate(timeout=seconds)[0]
        return self.process.returncode, said


def values_in(workshop, channel=None):
    """Values of the record, read past the program, by time."""
    with contextlib.closing(sqlite3.connect(f"file:{workshop}/workshop.db?mode=ro", uri=True, timeout=20)) as db:
        rows = db.execute(
            "SELECT c.name, r.value FROM reading r JOIN channel c ON c.id = r.channel_id ORDER BY c.name, r.at"
        ).fetchall()
    return [value for name, value in rows if channel in (None, name)]


def filters_of(workshop):
    """What the listener has subscribed to, as the record has it."""
    with contextlib.closing(sqlite3.connect(f"file:{workshop}/workshop.db?mode=ro", uri=True, timeout=20)) as db:
        row = db.execute("SELECT value FROM workshop WHERE key = 'live.filters'").fetchone()
    return row[0] if row else ""
