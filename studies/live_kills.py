"""A hundred kills of the listener while numbered readings come, from Mosquitto where it is installed.

    python studies/live_kills.py [KILLS]

Each round starts `nestwright listen`, kills it with signal 9 at a random moment while a publisher sends numbered
readings with QoS 1, and opens the database: it must be whole, and hold every reading that the broker had been
acknowledged for (the witness of the tests watches that on the wire). At the end every reading must be there, once.
"""

import json
import random
import sqlite3
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "workshop")]

from live_brokers import MOSQUITTO, Publisher, RealBroker, values_in, wait_for  # noqa: E402
from live_numbers import fresh, listener, numbered  # noqa: E402
from live_witness import Witness  # noqa: E402

BEHIND = 1_000_000
"""ms by which the numbered times lie behind now: room for all of them before now."""


def whole(folder):
    """Whether the database opens and is whole."""
    db = sqlite3.connect(folder / "w" / "workshop.db", timeout=20)
    try:
        return db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    finally:
        db.close()


def watched(kills, draw):
    """Against the witness: what was acknowledged is there, looked at when it was acknowledged and after each kill."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        fresh(folder)
        payloads = [numbered(n, BEHIND) for n in range(400 * kills)]
        db = sqlite3.connect(folder / "w" / "workshop.db", check_same_thread=False)
        place = [json.loads(p)["at"] for p in payloads]

        def look(n):
            return db.execute("SELECT 1 FROM reading WHERE channel_id = 1 AND at = ?", (place[n],)).fetchone()

        witness = Witness("bench/a/numbers", payloads, look)
        lost = broken = 0
        for _ in range(kills):
            one, before = listener(folder, witness.port, anew=True), len(witness.acknowledged)
            if draw.random() < 0.8:
                wait_for(lambda before=before: len(witness.acknowledged) > before or witness.done)
                time.sleep(draw.random() * 0.2)
            else:  # some die before they ever listen
                time.sleep(draw.random() * 1.5)
            one.kill()
            lost += len(set(witness.acknowledged) - set(values_in(folder / "w")))
            broken += not whole(folder)
        acknowledged = len(set(witness.acknowledged))
        print(
            f"witness: {kills} kills, {acknowledged} readings acknowledged, {witness.sent_again} sent again, "
            f"{len(witness.early)} acknowledged before they were kept, {lost} lost, {broken} databases broken"
        )
        witness.close()
        return not (witness.early or lost or broken)


def real(kills, draw):
    """Against Mosquitto: what the publisher was told that the broker has comes into the record, once."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        fresh(folder)
        broker = RealBroker("mosquitto", folder)
        first, sender, n, broken = listener(folder, broker.port, anew=True), Publisher(broker.port), 0, 0
        wait_for(lambda: (sender.send("bench/a/numbers", numbered(-1, BEHIND)), -1 in values_in(folder / "w"))[1])
        first.kill()
        for _ in range(kills):
            one = listener(folder, broker.port, anew=True)
            end = time.monotonic() + 1.0 + draw.random() * 2.0
            while time.monotonic() < end:
                for _ in range(4):
                    sender.send("bench/a/numbers", numbered(n, BEHIND))
                    n += 1
                time.sleep(0.02)
            one.kill()
            broken += not whole(folder)
        sender.wait(60)
        last = listener(folder, broker.port, anew=True)
        wait_for(lambda: len(values_in(folder / "w")) > n, 120)
        last.end()
        found = [v for v in values_in(folder / "w") if v >= 0]
        broker.kill()
        print(
            f"mosquitto: {kills} kills, {n} readings sent, {n - len(set(found))} lost, "
            f"{len(found) - len(set(found))} twice, {broken} databases broken"
        )
        return set(found) == set(range(n)) and len(found) == n and not broken


if __name__ == "__main__":
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    good = watched(kills, random.Random(1))
    if MOSQUITTO:
        good = real(kills, random.Random(2)) and good
    else:
        print("mosquitto: not installed")
    sys.exit(not good)
