"""The inventory is CycloneDX by its own schema, and leaves nothing out that is installed or vendored."""

import importlib.util
import json
import re
from pathlib import Path

from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator

ROOT = Path(__file__).parents[2]


def made():
    spec = importlib.util.spec_from_file_location("make_inventory", ROOT / "docs" / "make_inventory.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.inventory()


def test_the_inventory_is_whole_and_valid():
    found = made()
    # ECMA-424 (CycloneDX 1.6), by the schema that the library for it carries
    assert JsonStrictValidator(SchemaVersion.V1_6).validate_str(json.dumps(found)) is None
    names = {part["name"].lower() for part in found["components"]}
    locked = set(re.findall(r"^([\w.-]+)==", (ROOT / "requirements.lock").read_text(), re.MULTILINE))
    assert {name.lower() for name in locked} <= names
    files = {file["name"] for part in found["components"] for file in part.get("components", [])}
    vendored = ROOT / "src/nestwright/web/static/vendor"
    assert {path.name for path in vendored.iterdir() if path.suffix in (".js", ".css")} <= files
