"""Certificate of one build: what was measured on it and how it passed its checks, as the record holds it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from nestwright.papers.marks import N_
from nestwright.papers.names import measured
from nestwright.papers.words import words_of
from nestwright.press.setting import set_paper

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from nestwright.workshop.builds import Made

__all__ = ["Certificate", "certificate_of", "certificate_pdf"]

UNTOLD = N_("not told")
VERDICTS = {
    "passed": N_("Every check that is recorded was passed."),
    "failed": N_("A check was failed and not passed since."),
    "open": N_("Checks are still to be made."),
    "none": N_("No check of this build is recorded."),
}
CAUTIONS = (
    N_(
        "It tells what was measured and looked at on the days given, by whoever built the habitat. It is no approval "
        "of electrical or other safety: that is for licensed practice under local rules."
    ),
    N_("Mains near water wants low voltage or a residual current device, a fuse, and a cut-out against overheating."),
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


def certificate_pdf(certificate: Certificate, made: date, language: str = "en") -> bytes:
    """One A4 page, more where the record is long; PDF/A-2b. What is not recorded reads "not told".

    Raises InputError for a language that is not there.
    """
    _ = words_of(language).gettext
    c = certificate
    outcome = {True: _("passed"), False: _("failed"), None: _("not looked at yet")}
    untold = _(UNTOLD)
    data = {
        "lang": language,
        "title": _("Certificate of build {serial}").format(serial=c.serial),
        "heading": _("Build {serial}").format(serial=c.serial),
        "footer": _("Build {serial}").format(serial=c.serial[:60]),
        "facts": [[_("Design"), c.habitat], [_("Revision"), c.revision or untold], [_("Made"), c.made or untold]],
        "verdict": {"title": _("Verdict"), "line": _(VERDICTS[c.verdict])},
        "checks": {
            "title": _("Checks"),
            "head": [_("check"), _("outcome"), _("value"), _("day")],
            "rows": [[r["what"], outcome[r["passed"]], r["value"] or "", r["day"] or untold] for r in c.checks],
            "none": _("None recorded."),
        },
        "measured": {
            "title": _("Measured"),
            "head": [_("what"), _("value"), _("day"), _("note")],
            "rows": [[measured(r["what"], _), r["value"], r["day"] or untold, r["note"] or ""] for r in c.measured],
            "none": _("Not measured."),
        },
        "signed": _("Day and signature:"),
        "cautions": [_(one) for one in CAUTIONS],
    }
    return set_paper("certificate", data, made)
