"""Write what is inside as CycloneDX: the locked libraries and what is vendored with the page (`make inventory`)."""

import hashlib
import json
import re
import sys
import tomllib
from pathlib import Path

from nestwright import __version__

ROOT = Path(__file__).parents[1]
VENDORED = ROOT / "src" / "nestwright" / "web" / "static" / "vendor"
PINNED = re.compile(r"([\w.-]+)==(\S+)(?: ; ([^\\\n]+?))?\s*\\\n")
ROW = re.compile(r"^\| ([^|]+) \| (\S+) \| (\d\S*) \| (\S+) \|$", re.MULTILINE)


def locked() -> list[dict[str, object]]:
    """Every library of the lock: name, version, and the hash of each file that may be installed of it."""
    made = []
    for block in re.split(r"\n(?=\S)", (ROOT / "requirements.lock").read_text("utf-8")):
        if (found := PINNED.match(block)) is None:
            continue
        name, version, marker = found.groups()
        purl = f"pkg:pypi/{name}@{version}"
        hashes = [{"alg": "SHA-256", "content": one} for one in re.findall(r"--hash=sha256:([0-9a-f]{64})", block)]
        made.append(
            {
                "type": "library",
                "bom-ref": purl,
                "name": name,
                "version": version,
                "purl": purl,
                "externalReferences": [{"type": "distribution", "url": purl, "hashes": hashes}],
            }
            | ({"description": f"where {marker}"} if marker else {})
        )
    return made


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
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    parts = [*locked(), *vendored()]
    whole = {
        "type": "application",
        "bom-ref": project["name"],
        "name": project["name"],
        "version": __version__,
        "description": project["description"],
        "licenses": [{"license": {"id": project["license"]}}],
    }
    return {
        "$schema": "http://cyclonedx.org/schema/bom-1.6.schema.json",
        "bomFormat": "CycloneDX",
        "specVersion": "1.6",
        "version": 1,
        "metadata": {"component": whole},
        "components": parts,
        "dependencies": [
            {"ref": project["name"], "dependsOn": [part["bom-ref"] for part in parts]},
            *({"ref": part["bom-ref"]} for part in parts),
        ],
    }


if __name__ == "__main__":
    place = Path(sys.argv[1])
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_text(json.dumps(inventory(), indent=1, sort_keys=True) + "\n")
    print(f"wrote {place}")
