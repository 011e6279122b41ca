"""How fast the page of a large workshop is, and what it does while fifty phones send visits and sensors send readings.

    python studies/large_workshop.py FOLDER
    python studies/page_load.py FOLDER [SECONDS] [PHONES] [CHANNELS]

Works on a copy of FOLDER. First every page, once cold and then warm, as a browser on this computer asks for it; then
SECONDS (600) in which each of PHONES (50) sends a visit every few seconds, one in five twice with the same number as
after a lost answer, while CHANNELS (200) are posted once a second to `nestwright listen` and a bench asks for pages.
Then all phones send in the same moment. At the end the record is counted: every visit once, every reading once. Only
addresses of this computer are asked.
"""

import json
import random
import shutil
import signal
import socket
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
import uuid
from datetime import UTC, date, datetime
from pathlib import Path

PLACES = (
    "/", "/colonies", "/colonies/Colony%2005", "/colonies/Colony%2005/photos", "/visit", "/visit/Colony%2005",
    "/builds", "/builds/B-005", "/habitats", "/habitats/three-pot", "/sensors", "/history", "/search?q=colony",
    "/alarms", "/settings",
)  # fmt: skip
NUMBER = [sys.executable, "-m", "nestwright"]


def percentile(values: list[float], share: float) -> float:
    return sorted(values)[min(int(share * len(values)), len(values) - 1)]


def started(*arguments: str) -> tuple[subprocess.Popen[str], str]:
    """A command of the program in a process of its own, and the address that its first line ends with."""
    process = subprocess.Popen(NUMBER + list(arguments), stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    return process, process.stdout.readline().split()[-1]


def asked(address: str, body: bytes | None = None, **headers: str) -> tuple[float, bytes]:
    """Milliseconds until the whole answer was there, and the answer."""
    request = urllib.request.Request(address, body, {k.replace("_", "-"): v for k, v in headers.items()})
    begun = time.perf_counter()
    with urllib.request.urlopen(request, timeout=60) as answer:
        text = answer.read()
    return 1e3 * (time.perf_counter() - begun), text


def pages(address: str) -> None:
    """Each page once cold, then five times."""
    print(f"{'page':34}{'first ms':>10}{'median ms':>11}{'worst ms':>10}{'kB':>7}")
    for place in PLACES:
        try:
            first, text = asked(address + place)
            warm = [asked(address + place)[0] for _ in range(5)]
        except urllib.error.HTTPError as error:
            print(f"{place:34}{error}")
            continue
        print(f"{place:34}{first:10.0f}{statistics.median(warm):11.0f}{max(warm):10.0f}{len(text) / 1e3:7.0f}")


class Crowd:
    """What was sent and answered, by all threads."""

    def __init__(self) -> None:
        self.lock = threading.Lock()
        self.visits: list[str] = []
        self.readings: list[tuple[int, int]] = []
        self.times: dict[str, list[float]] = {"visit": [], "readings": [], "page": [], "visit at once": []}
        self.faults: list[str] = []

    def took(self, what: str, ms: float) -> None:
        with self.lock:
            self.times[what].append(ms)

    def fault(self, what: str, error: Exception) -> None:
        with self.lock:
            self.faults.append(f"{what}: {type(error).__name__} {error}")


def phone(crowd: Crowd, address: str, number: int, end: float) -> None:
    """One phone: a visit every 5 to 15 s."""
    draw = random.Random(number)
    # the first within ten seconds, so that they do not begin in step
    pause = draw.uniform(0, 10)
    while time.time() + pause < end:
        time.sleep(pause)
        pause = draw.uniform(5, 15)
        visit(crowd, address, draw, "visit")


def visit(crowd: Crowd, address: str, draw: random.Random, called: str) -> None:
    """One visit, in one of five cases sent again as after a lost answer."""
    uid = str(uuid.UUID(int=draw.getrandbits(128), version=4))
    body = urllib.parse.urlencode(
        {
            "uid": uid, "colony": f"Colony {1 + draw.randrange(40):02d}", "day": date.today().isoformat(),
            "garden": f"{draw.randrange(20, 150)} mL", "note": "load",
        }
    ).encode()  # fmt: skip
    for _ in range(2 if draw.random() < 0.2 else 1):
        try:
            took, text = asked(
                f"{address}/api/visits", body, Origin=address, Content_Type="application/x-www-form-urlencoded"
            )
            assert json.loads(text)["visit"] > 0
            crowd.took(called, took)
        except Exception as error:
            crowd.fault(called, error)
    with crowd.lock:
        crowd.visits.append(uid)


def sensors(crowd: Crowd, address: str, token: str, channels: int, end: float) -> None:
    """All channels once a second, in parcels of twenty loggers."""
    base = int(time.time() * 1000) - 3_600_000
    second = 0
    while time.time() < end:
        begun = time.time()
        for part in range(0, channels, 20):
            at = base + second * 1000
            told = datetime.fromtimestamp(at / 1000, UTC).isoformat()
            rows = [
                {
                    "logger": f"live-{n:03d}",
                    "channel": "temperature",
                    "value": 24 + n / 1000,
                    "unit": "degC",
                    "at": told,
                }
                for n in range(part, min(part + 20, channels))
            ]
            try:
                took, _ = asked(
                    f"{address}/readings", json.dumps(rows).encode(), Authorization=f"Bearer {token}",
                    Content_Type="application/json",
                )  # fmt: skip
                crowd.took("readings", took)
            except Exception as error:
                crowd.fault("readings", error)
            with crowd.lock:
                crowd.readings += [(n, at) for n in range(part, min(part + 20, channels))]
        second += 1
        time.sleep(max(begun + 1 - time.time(), 0))


def bench(crowd: Crowd, address: str, end: float) -> None:
    """A person at the bench who looks at a page every second."""
    draw = random.Random(7)
    while time.time() < end:
        try:
            crowd.took("page", asked(address + draw.choice(PLACES[:9]))[0])
        except Exception as error:
            crowd.fault("page", error)
        time.sleep(1)


def counted(folder: Path, crowd: Crowd) -> None:
    """What the record holds of what was sent."""
    link = sqlite3.connect(folder / "workshop.db")
    kept = link.execute("SELECT count(*), count(DISTINCT uid) FROM visit WHERE note = 'load'").fetchone()
    wanted = len(set(crowd.visits))
    query = (
        "SELECT count(*), count(DISTINCT channel_id || '/' || reading.at) FROM reading "
        "JOIN channel ON channel.id = channel_id JOIN logger ON logger.id = logger_id WHERE logger.name LIKE 'live-%'"
    )
    rows = link.execute(query).fetchone()
    whole = link.execute("PRAGMA quick_check").fetchone()[0]
    link.close()
    print(f"visits told {wanted}, in the record {kept[0]} ({kept[1]} different)")
    print(f"readings posted {len(crowd.readings)}, in the record {rows[0]} ({rows[1]} different)")
    print(f"database: {whole}; faults: {len(crowd.faults)} {crowd.faults[:3]}")
    assert kept == (wanted, wanted)
    assert rows == (len(crowd.readings),) * 2
    assert whole == "ok"


def memory(process: subprocess.Popen[str]) -> int:
    """Resident megabytes, where the system tells."""
    try:
        text = Path(f"/proc/{process.pid}/status").read_text()
    except OSError:
        return 0
    return int(text.split("VmRSS:")[1].split()[0]) // 1024


def files(process: subprocess.Popen[str]) -> int:
    """Open files, where the system tells."""
    try:
        return len(list(Path(f"/proc/{process.pid}/fd").iterdir()))
    except OSError:
        return 0


def main(folder: str, seconds: str = "600", phones: str = "50", channels: str = "200") -> None:
    with tempfile.TemporaryDirectory() as name:
        copy = Path(name) / "workshop"
        shutil.copytree(folder, copy)
        at = ("--workshop", str(copy))
        made = subprocess.run(
            [*NUMBER, "listen", "--new-token", "--json", *at], capture_output=True, text=True, check=True
        )
        token = json.loads(made.stdout)["token"]
        begun = time.perf_counter()
        page, address = started("serve", "--port", "0", *at)
        print(f"the address is told after {time.perf_counter() - begun:.2f} s")
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        door = subprocess.Popen([*NUMBER, "listen", "--http", str(port), *at], stdout=subprocess.DEVNULL, text=True)
        for _ in range(600):
            try:
                socket.create_connection(("127.0.0.1", port), 1).close()
                break
            except OSError:
                time.sleep(0.1)
        try:
            first, _ = asked(address + "/")
            print(
                f"first page {time.perf_counter() - begun:.2f} s after the command began, "
                f"{first:.0f} ms after it was asked for"
            )
            pages(address)
            told = (token, float(seconds), int(phones), int(channels))
            load(copy, address, f"http://127.0.0.1:{port}", *told, {"page": page, "listen": door})
        finally:
            for one in (page, door):
                one.send_signal(signal.SIGINT)
            for one in (page, door):
                one.wait(30)


def watch(processes: dict[str, subprocess.Popen[str]], end: float) -> None:
    """Memory and open files of the processes, ten times over the whole."""
    begun = time.time()
    while time.time() < end:
        told = ", ".join(f"{name} {memory(one)} MB, {files(one)} files" for name, one in processes.items())
        print(f"after {time.time() - begun:6.0f} s: {told}", flush=True)
        time.sleep(max(min((end - begun) / 10, end - time.time()), 0.1))


def load(
    folder: Path, address: str, door: str, token: str, seconds: float, phones: int, channels: int,
    processes: dict[str, subprocess.Popen[str]],
) -> None:  # fmt: skip
    """The crowd for so many seconds, and what it met."""
    crowd, end = Crowd(), time.time() + seconds
    threads = [threading.Thread(target=phone, args=(crowd, address, n, end)) for n in range(phones)]
    threads.append(threading.Thread(target=sensors, args=(crowd, door, token, channels, end)))
    threads.append(threading.Thread(target=bench, args=(crowd, address, end)))
    threads.append(threading.Thread(target=watch, args=(processes, end)))
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    # and all phones in the same moment, as when the network comes back
    threads = [
        threading.Thread(target=visit, args=(crowd, address, random.Random(1000 + n), "visit at once"))
        for n in range(phones)
    ]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    for what, times in crowd.times.items():
        if times:
            print(
                f"{what}: {len(times)} answers, median {statistics.median(times):.0f} ms, "
                f"95 % within {percentile(times, 0.95):.0f} ms, 99 % within {percentile(times, 0.99):.0f} ms, "
                f"worst {max(times):.0f} ms"
            )
    print(f"at the end: {', '.join(f'{name} {memory(one)} MB' for name, one in processes.items())}")
    counted(folder, crowd)


if __name__ == "__main__":
    main(*sys.argv[1:])
