"""Write what is inside as CycloneDX: the locked libraries and what is vendored with the page (`make inventory`)."""

import hashlib
import json
import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
VENDORED = ROOT / "src" / "nestwright" / "web" / "static" / "vendor"
ROW = re.compile(r"^\| ([^|]+) \| (\S+) \| (\d\S*) \| (\S+) \|$", re.MULTILINE)


def locked() -> dict[str, object]:
    """The lock as the tool for it tells it: names, versions, hashes of every file that may be installed."""
    words = ["-m", "cyclonedx_py", "requirements", "--output-reproducible", "--of", "JSON", "-o", "-"]
    command = [sys.executable, "-W", "ignore", *words, "--pyproject", "pyproject.toml", "requirements.lock"]
    made = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    return json.loads(made.stdout)


def vendored() -> list[dict[str, object]]:
    """The scripts and fonts that lie in the package itself, out of the table beside them."""
    made = []
    for patterns, name, version, licence in ROW.findall((VENDORED / "README.md").read_text()):
        files = sorted(file for pattern in patterns.split(", ") for file in VENDORED.glob(pattern))
        made.append(
            {
                "type": "library",
                "bom-ref": f"vendored-{name}",
                "name": name,
                "version": version,
                "purl": f"pkg:npm/{name.replace('@', '%40')}@{version}",
                "licenses": [{"license": {"id": licence}}],
                "components": [
                    {
                        "type": "file",
                        "bom-ref": f"vendored-{file.name}",
                        "name": file.name,
                        "hashes": [{"alg": "SHA-256", "content": hashlib.sha256(file.read_bytes()).hexdigest()}],
                    }
                    for file in files
                ],
            }
        )
    return made


def inventory() -> dict[str, object]:
    """Both in one document (CycloneDX 1.6, ECMA-424)."""
    made = locked()
    made["components"] = [*made["components"], *vendored()]  # type: ignore[misc]
    return made


if __name__ == "__main__":
    place = Path(sys.argv[1])
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_text(json.dumps(inventory(), indent=1, sort_keys=True) + "\n")
    print(f"wrote {place}")
