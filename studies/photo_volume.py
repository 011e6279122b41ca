"""Volumes of rendered gardens against the volumes that they have.

python studies/photo_volume.py [--n 24] [--first 2000]

Lumpy bodies of known volume are drawn beside a marker sheet or before it, with the camera 200 to 600 mm away and
looking down by up to 20 deg, in light of several colours from several sides, some of them under a bell. Each is
measured with its proposed outline and with its true one, from one view and from two at right angles. Scenes are kept
in out/studies: a stopped run goes on. Writes docs/how-it-computes/photo-study.md.
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests" / "sensing"))

from photo_scenes import Body, Scene, covered, jpeg, placed, render, volume  # noqa: E402

from nestwright.errors import InputError  # noqa: E402
from nestwright.sensing.photo import Asked, measure_photo, picture_of  # noqa: E402
from nestwright.sensing.photo.outline import outline_of_mask  # noqa: E402

PAGE = ROOT / "docs" / "how-it-computes" / "photo-study.md"
KEPT = ROOT / "out" / "studies" / "photo_volume.jsonl"
CLASSES: dict[str, tuple[dict[int, float], float]] = {
    "round": ({}, 0.0),
    "nearly round": ({2: 0.01, 3: 0.01, 4: 0.01}, 0.01),
    "irregular": ({2: 0.03, 3: 0.02, 4: 0.02}, 0.02),
    "lopsided": ({2: 0.10, 3: 0.04, 4: 0.03}, 0.03),
}
"""Amplitudes of lobes by order and of lumps, shares of the radius."""
SHAPES = ("dome", "mound", "ball", "loaf", "waist")
LAMPS = ((1.0, 1.0, 1.0), (1.0, 0.80, 0.55), (0.75, 0.88, 1.0), (1.0, 0.9, 0.75))
TABLES = ((0.30, 0.22, 0.14), (0.65, 0.64, 0.62), (0.08, 0.08, 0.09), (0.20, 0.12, 0.07))


def made(number: int) -> tuple[str, Scene]:
    """The scene of a number, and its class."""
    rng = np.random.default_rng(number)
    names = list(CLASSES)
    name = names[number % len(names)]
    shape = SHAPES[number // len(names) % len(SHAPES)]
    lobes, bumps = CLASSES[name]
    width = rng.uniform(35, 80)
    shares = tuple(rng.dirichlet([4, 3, 3, 0.6]))
    body = Body(shape, width, width * rng.uniform(0.6, 1.0), lobes, bumps, rng.uniform(-0.08, 0.08), number, shares)
    beside = bool(rng.random() < 0.35)
    scene = Scene(
        body,
        distance=rng.uniform(380 if beside else 200, 600),
        tilt=rng.uniform(0, 20),
        turn=rng.uniform(-10, 10),
        roll=rng.uniform(-3, 3),
        beside=beside,
        gap=rng.uniform(0, 20),
        size=(1600, 1200),
        lamp=LAMPS[rng.integers(len(LAMPS))],
        light=(rng.uniform(-1, 1), rng.uniform(0.4, 1), rng.uniform(0.2, 1)),
        ambient=rng.uniform(0.4, 0.7),
        exposure=rng.uniform(0.7, 1.15),
        table=TABLES[rng.integers(len(TABLES))],
        paper="a4" if rng.random() < 0.6 else "letter",
        bell=bool(rng.random() < 0.3),
    )
    return name, scene


def second_view(scene: Scene, number: int) -> Scene:
    """The same garden from its side, the camera held anew."""
    rng = np.random.default_rng(number + 10**6)
    return replace(scene, body_turn=90.0 + rng.uniform(-8, 8), tilt=rng.uniform(0, 20), turn=rng.uniform(-10, 10))


def measured(number: int) -> dict[str, Any]:
    """One scene measured all four ways: volumes relative to the true one, and stated errors."""
    name, scene = made(number)
    true = volume(scene.body)
    row: dict[str, Any] = {"number": number, "class": name, "shape": scene.body.shape, "tilt": scene.tilt}
    row |= {"distance": scene.distance, "beside": scene.beside, "bell": scene.bell, "true": true}
    views = [scene, second_view(scene, number)]
    pictures = [picture_of(jpeg(render(view), 27), f"scene {number}") for view in views]
    masks = [covered(view) for view in views]
    asked = [Asked(behind=float(placed(view)[0][2])) for view in views]
    exact = [replace(a, outline=outline_of_mask(m)) for a, m in zip(asked, masks, strict=True)]
    for way, told in (("proposed", asked), ("true", exact)):
        for count in (1, 2):
            try:
                two = (pictures[1], told[1]) if count == 2 else (None, None)
                result = measure_photo(pictures[0], told[0], *two)
            except InputError as error:
                row[f"{way} {count}"] = {"refused": str(error)}
                continue
            row[f"{way} {count}"] = {
                "off": result.volume_ml / true - 1,
                "stated": result.error_relative,
                "held": result.low <= true <= result.high,
                "overlap": overlap(result.outline_px, masks[0]),
            }
            if way == "proposed" and count == 1:
                whole = result.colours[0]
                row["colours"] = {
                    n: [getattr(whole, n), whole.error[n], share]
                    for n, share in zip(("white", "grey", "brown", "green"), scene.body.shares, strict=True)
                }
    return row


def overlap(outline: Any, mask: np.ndarray) -> float:
    """Area in both over area in either."""
    import cv2

    drawn = np.zeros(mask.shape, np.uint8)
    cv2.fillPoly(drawn, [np.round(np.asarray(outline)).astype(np.int32)], 1)
    both, either = ((drawn > 0) & (mask > 0.5)).sum(), ((drawn > 0) | (mask > 0.5)).sum()
    return float(both / either)


def rows(first: int, count: int) -> list[dict[str, Any]]:
    """All scenes, those of an earlier run from its file."""
    KEPT.parent.mkdir(parents=True, exist_ok=True)
    kept = [json.loads(line) for line in KEPT.read_text().splitlines()] if KEPT.exists() else []
    known = {row["number"]: row for row in kept}
    for number in range(first, first + count):
        if number not in known:
            known[number] = measured(number)
            with KEPT.open("a") as file:
                file.write(json.dumps(known[number], default=float) + "\n")
    return [known[n] for n in range(first, first + count)]


def line_of(name: str, found: list[dict[str, Any]], refused: int) -> str:
    if not found:
        return f"| {name} | 0 | {refused} | | | | | |"
    off = np.array([100 * f["off"] for f in found])
    held = np.mean([f["held"] for f in found])
    stated = np.median([100 * f["stated"] for f in found])
    within = 100 * np.mean(np.abs(off) <= 8)
    return (
        f"| {name} | {len(off)} | {refused} | {np.median(off):+.1f} | {np.median(np.abs(off)):.1f} | "
        f"{np.quantile(np.abs(off), 0.9):.1f} | {within:.0f} | {stated:.0f}, {100 * held:.0f} |"
    )


def tables(all_rows: list[dict[str, Any]]) -> str:
    head = (
        "| scenes | measured | refused | middle error % | middle of its size % | 9 in 10 below % | "
        "within 8 %, % of scenes | stated error % (middle), true volume inside, % of scenes |\n"
        "| --- | --- | --- | --- | --- | --- | --- | --- |"
    )
    text = []
    for way, title in (
        ("proposed 1", "One view, proposed outline"),
        ("proposed 2", "Two views, proposed outlines"),
        ("true 1", "One view, true outline"),
        ("true 2", "Two views, true outlines"),
    ):
        text += [f"\n## {title}\n", head]
        groups: list[tuple[str, list[dict[str, Any]]]] = [
            (name, [r for r in all_rows if r["class"] == name]) for name in CLASSES
        ]
        groups.append(("before the sheet", [r for r in all_rows if not r["beside"]]))
        groups.append(("beside the sheet", [r for r in all_rows if r["beside"]]))
        groups.append(("all", all_rows))
        for name, own in groups:
            found = [r[way] for r in own if "off" in r[way]]
            text.append(line_of(name, found, len(own) - len(found)))
    return "\n".join(text)


TEXT = """# Gardens measured from rendered photographs

Made by `studies/photo_volume.py`: {n} scenes. Bodies 35 to 80 mm wide, of five outlines (dome, mound, ball, loaf,
waist), lean up to 8 %, in four grades: *round*; *nearly round*, lobes and lumps of 1 % of the radius; *irregular*, 2 to
3 %; *lopsided*, 10 % longer one way than the mean and 10 % shorter the other. The camera (1600 by 1200) is 200 to
600 mm away, looks down by 0 to 20 deg, from up to 10 deg aside and rolled by up to 3; four colours of light from any
side, four tables, both papers, some under a bell. The distance from the sheet to the middle is told. "True outline"
takes the outline from the renderer in place of the proposed one: what is left is shape and geometry.

What the measurement takes from scenes (its outlines' thresholds, 1.5 % for hidden hollows, the errors marked derived)
was set on 64 other scenes of the same kind; none of these was looked at before.
"""

MUSHROOM = """
## What breaks it

{breaking}

- A stalk under a cap (above, true outlines): from above the cap hides the hollow under it, which is counted as garden.
- A lopsided garden from one view: nothing in a silhouette tells the depth. The second view does, in part.
- A garden of the table's own colours: the proposed outline cuts pieces off or takes table in. Look at it. The worst
  overlap of proposed and true outline here was {worst:.2f} (1 is the same), in nine scenes of ten above {usual:.2f}.
- A bell over a garden beside the sheet: its rim, a reflection or the air under it is taken for garden.
- A crater in the top: no view from the side sees it.

Colours: {colours}
"""


def stalks() -> str:
    """How far off a cap on a stalk is, by tilt."""
    text = ["| cap on a stalk, looking down by | error % |", "| --- | --- |"]
    for tilt in (0.0, 10.0, 20.0):
        scene = Scene(Body("mushroom", 60.0, 50.0), tilt=tilt, size=(1600, 1200))
        picture = picture_of(jpeg(render(scene), 27))
        asked = Asked(behind=float(placed(scene)[0][2]), outline=outline_of_mask(covered(scene)))
        result = measure_photo(picture, asked)
        text.append(f"| {result.tilt_deg:.0f} deg | {100 * (result.volume_ml / volume(scene.body) - 1):+.0f} |")
    return "\n".join(text)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--n", type=int, default=24)
    # scenes 0 to 35 and 1000 to 1027 are those on which outline, excess and errors of the measurement were set
    parser.add_argument("--first", type=int, default=2000)
    args = parser.parse_args()
    found = rows(args.first, args.n)
    inside = [abs(a - t) <= e for r in found for a, e, t in r.get("colours", {}).values()]
    off = [100 * abs(a - t) for r in found for a, _, t in r.get("colours", {}).values()]
    seen = [r["proposed 1"]["overlap"] for r in found if "off" in r["proposed 1"]]
    colours = (
        "the share of each of white, grey, brown and green lay within its stated error in "
        f"{100 * np.mean(inside):.0f} % of {len(off)} cases (nine in ten are promised); half were within "
        f"{np.median(off):.1f} points, nine in ten within {np.quantile(off, 0.9):.1f}."
    )
    last = MUSHROOM.format(breaking=stalks(), worst=min(seen), usual=np.quantile(seen, 0.1), colours=colours)
    PAGE.write_text(TEXT.format(n=len(found)) + tables(found) + "\n" + last)


if __name__ == "__main__":
    main()
