"""Certificate of one build: what was measured on it and how it passed its checks, as the record holds it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from nestwright.press.setting import set_paper

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from nestwright.workshop.builds import Made

__all__ = ["Certificate", "certificate_of", "certificate_pdf"]

UNTOLD = "not told"
VERDICTS = {
    "passed": "Every check that is recorded was passed.",
    "failed": "A check was failed and not passed since.",
    "open": "Checks are still to be made.",
    "none": "No check of this build is recorded.",
}
CAUTIONS = (
    "It tells what was measured and looked at on the days given, by whoever built the habitat. It is no approval of "
    "electrical or other safety: that is for licensed practice under local rules.",
    "Mains near water wants low voltage or a residual current device, a fuse, and a cut-out against overheating.",
)


@dataclass(frozen=True)
class Certificate:
    """`verdict`: passed, failed, open or none, by the last of each check."""

    serial: str
    habitat: str
    revision: str
    made: str
    verdict: str
    measured: tuple[Mapping[str, Any], ...]
    checks: tuple[Mapping[str, Any], ...]

    def to_dict(self) -> dict[str, Any]:
        told = {k: getattr(self, k) for k in ("serial", "habitat", "revision", "made", "verdict")}
        rows = {
            "measured": [{k: row[k] for k in ("what", "value", "day", "note")} for row in self.measured],
            "checks": [{k: row[k] for k in ("what", "passed", "value", "day", "note")} for row in self.checks],
        }
        return {**told, **rows}


def certificate_of(build: Made, habitat: str) -> Certificate:
    """From a build of the record and its design's name; a check that was repeated counts as it ended."""
    last = {row["what"]: row["passed"] for row in build.quality}
    found = list(last.values())
    verdict = "none" if not found else "failed" if False in found else "open" if None in found else "passed"
    values = build.values
    return Certificate(
        build.serial, habitat, values["revision"] or "", values["made"] or "", verdict, build.measured, build.quality
    )


def certificate_pdf(certificate: Certificate, made: date) -> bytes:
    """One A4 page, more where the record is long; PDF/A-2b. What is not recorded reads "not told"."""
    c = certificate
    outcome = {True: "passed", False: "failed", None: "not looked at yet"}
    data = {
        "lang": "en",
        "title": f"Certificate of build {c.serial}",
        "footer": f"Build {c.serial[:60]}",
        "facts": [["Design", c.habitat], ["Revision", c.revision or UNTOLD], ["Made", c.made or UNTOLD]],
        "serial": c.serial,
        "verdict": VERDICTS[c.verdict],
        "measured": [[row["what"], row["value"], row["day"] or UNTOLD, row["note"] or ""] for row in c.measured],
        "checks": [[row["what"], outcome[row["passed"]], row["value"] or "", row["day"] or UNTOLD] for row in c.checks],
        "cautions": list(CAUTIONS),
    }
    return set_paper("certificate", data, made)
