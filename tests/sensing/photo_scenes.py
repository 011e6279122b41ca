"""Rendered scenes for the measurement from photographs: a lumpy body of known volume beside a marker sheet.

Written for these tests alone: points of a lumpy body are projected with a pinhole camera and painted from the far side
to the near one, in colours that a lamp of some colour and place gives them. Nothing here shares code with the
measurement but the sheet that is printed.
"""

from __future__ import annotations

import functools
import io
import math
from dataclasses import dataclass, field

import cv2
import numpy as np

from nestwright.sensing.photo.sheet import PAPERS, sheet_png


@dataclass(frozen=True)
class Body:
    """shape: name of a profile. width, height: mm. lobes: {order: amplitude}, bumps: shares of the radius."""

    shape: str = "dome"
    width: float = 60.0
    height: float = 40.0
    lobes: dict[int, float] = field(default_factory=dict)
    bumps: float = 0.0
    lean: float = 0.0
    seed: int = 1
    shares: tuple[float, float, float, float] = (0.35, 0.35, 0.3, 0.0)
    """White, grey, brown, green."""


@dataclass(frozen=True)
class Scene:
    body: Body = Body()
    distance: float = 350.0
    tilt: float = 10.0
    turn: float = 0.0
    roll: float = 0.0
    beside: bool = False
    gap: float = 8.0
    """mm between the garden and the sheet behind it."""
    focal_35: float = 27.0
    size: tuple[int, int] = (800, 600)
    lamp: tuple[float, float, float] = (1.0, 1.0, 1.0)
    light: tuple[float, float, float] = (0.3, 0.9, 0.6)
    ambient: float = 0.55
    exposure: float = 1.0
    wall: tuple[float, float, float] = (0.25, 0.24, 0.22)
    table: tuple[float, float, float] = (0.30, 0.22, 0.14)
    paper: str = "a4"
    noise: float = 0.008
    bell: bool = False
    body_turn: float = 0.0
    """deg that the body is turned about its own axis: 90 for a second view."""
    sheet: bool = True


def radius_at(shape: str, s: np.ndarray) -> np.ndarray:
    """Radius, of the largest, at height s from 0 to 1."""
    if shape == "dome":
        return np.sqrt(np.clip(1 - s**2, 0, 1))
    if shape == "mound":
        return np.sqrt(np.clip(1 - s**1.3, 0, 1)) * (0.92 + 0.08 * s)
    if shape == "ball":
        t = 0.12 + 0.88 * s
        return np.sqrt(np.clip(1 - (2 * t - 1) ** 2, 0, 1))
    if shape == "loaf":
        return np.clip(1 - s**6, 0, 1) ** (1 / 3) * (0.9 + 0.25 * s - 0.25 * s**2) / 0.9625
    if shape == "waist":
        return np.sqrt(np.clip(1 - s**8, 0, 1)) * (1 - 0.35 * np.exp(-(((s - 0.45) / 0.18) ** 2)))
    if shape == "mushroom":
        return np.where(s < 0.45, 0.45, np.sqrt(np.clip(1 - ((s - 0.45) / 0.55) ** 2, 0, 1)))
    if shape == "crater":
        return np.sqrt(np.clip(1 - s**2, 0, 1))
    raise ValueError(shape)


def surface(body: Body, turn: float = 0.0, rows: int = 110, columns: int = 220) -> np.ndarray:
    """Points (rows, columns, 3), mm, of the body's side; its foot is at y = 0."""
    rng = np.random.default_rng(body.seed)
    s = (1 - np.cos(np.linspace(0, math.pi, rows))) / 2
    angle = np.linspace(0, 2 * math.pi, columns, endpoint=False)
    r = np.repeat(radius_at(body.shape, s)[:, None], columns, axis=1)
    wave = np.zeros_like(r)
    for order, amplitude in body.lobes.items():
        twist = rng.uniform(0, 2 * math.pi)
        wave += amplitude * np.cos(order * angle[None] + twist + rng.uniform(-0.6, 0.6) * s[:, None])
    if body.bumps:
        lumps = np.zeros_like(r)
        for _ in range(60):
            a, b = rng.uniform(0, 2 * math.pi), rng.uniform(0, 1)
            d = (np.angle(np.exp(1j * (angle[None] - a))) / 0.35) ** 2 + ((s[:, None] - b) / 0.13) ** 2
            lumps += rng.normal() * np.exp(-d)
        wave += body.bumps * lumps / lumps.std()
    r = r * (1 + wave) * body.width / 2
    a = angle[None] + math.radians(turn)
    y = s[:, None] * body.height
    lean = body.lean * s[:, None] * body.height
    lean_x, lean_z = lean * math.cos(math.radians(turn)), lean * math.sin(math.radians(turn))
    return np.stack([r * np.cos(a) + lean_x, np.broadcast_to(y, r.shape), r * np.sin(a) + lean_z], axis=-1)


def volume(body: Body) -> float:
    """mL, by the divergence theorem over the closed surface."""
    p = surface(body, rows=220, columns=440)
    closed = np.concatenate([p, p[:, :1]], axis=1)
    a, b, c, d = closed[:-1, :-1], closed[:-1, 1:], closed[1:, 1:], closed[1:, :-1]

    def signed(u: np.ndarray, v: np.ndarray, w: np.ndarray) -> float:
        return float((u * np.cross(v, w)).sum() / 6)

    foot, top = closed[0], closed[-1]
    total = signed(a, b, c) + signed(a, c, d)
    total += signed(np.broadcast_to(foot[:-1].mean(0), foot[:-1].shape), foot[1:], foot[:-1])
    total += signed(np.broadcast_to(top[:-1].mean(0), top[:-1].shape), top[:-1], top[1:])
    return abs(total) / 1000.0


def srgb(linear: np.ndarray) -> np.ndarray:
    x = np.clip(linear, 0, 1)
    return np.where(x <= 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055)


def linear(encoded: np.ndarray) -> np.ndarray:
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


ALBEDO = np.array([[0.72, 0.70, 0.64], [0.30, 0.29, 0.27], [0.27, 0.14, 0.06], [0.16, 0.30, 0.09]])
"""White, grey, brown, green, linear."""


def camera(scene: Scene, target: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
    """Focal length in px, rotation and place of the camera, which looks about at the target."""
    w, h = scene.size
    focal = scene.focal_35 / math.hypot(36, 24) * math.hypot(w, h)
    tilt, turn = math.radians(scene.tilt), math.radians(scene.turn)
    back = np.array([math.sin(turn) * math.cos(tilt), math.sin(tilt), math.cos(turn) * math.cos(tilt)])
    place = target + scene.distance * back
    forward = -back
    right = np.cross(forward, [0.0, 1.0, 0.0])
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    c, s = math.cos(math.radians(scene.roll)), math.sin(math.radians(scene.roll))
    return focal, np.array([c * right + s * down, -s * right + c * down, forward]), place


def placed(scene: Scene) -> tuple[np.ndarray, float, np.ndarray, np.ndarray]:
    """Foot of the body in the frame of the sheet, mm; focal length, rotation and place of the camera."""
    paper = PAPERS[scene.paper]
    depth = 0.0 if scene.beside else scene.gap + scene.body.width / 2
    x = -paper.width / 2 - scene.body.width / 2 - 10 if scene.beside else 0.0
    foot = np.array([x, -paper.height / 2, depth])
    look = foot + np.array([0, scene.body.height / 2, 0])
    if scene.sheet:
        # both garden and sheet in the picture
        look = look + ([-0.45 * x, 20.0, 0.0] if scene.beside else [0.0, 25.0, 0.0])
    return (foot, *camera(scene, look))


@functools.cache
def printed_on(paper: str) -> np.ndarray:
    """The sheet as light sees it. The printed patch is darker than paper by its own value, not by paper's: 18 % is
    what is meant."""
    page = cv2.imdecode(np.frombuffer(sheet_png(PAPERS[paper], 150.0), np.uint8), cv2.IMREAD_COLOR)[..., ::-1] / 255.0
    return (0.03 + 0.82 * linear(page)).astype(np.float32)


def render(scene: Scene, fine: int = 2) -> np.ndarray:
    """The scene as (height, width, 3) uint8 sRGB."""
    rng = np.random.default_rng(scene.body.seed + 1000)
    paper = PAPERS[scene.paper]
    table = -paper.height / 2
    foot, focal, turn, place = placed(scene)
    w, h = (side * fine for side in scene.size)
    f, middle = focal * fine, np.array([(w - 1) / 2, (h - 1) / 2])

    def project(p: np.ndarray) -> np.ndarray:
        q = (p - place) @ turn.T
        return f * q[..., :2] / q[..., 2:] + middle

    lamp = np.asarray(scene.lamp) * scene.exposure
    light = np.asarray(scene.light) / np.linalg.norm(scene.light)

    def lit(normal: np.ndarray) -> np.ndarray:
        return scene.ambient + (1 - scene.ambient) * np.clip(normal @ light, 0, 1)

    image = np.empty((h, w, 3))
    grain = cv2.GaussianBlur(rng.normal(size=(h, w)), (0, 0), 3 * fine)[..., None]
    image[:] = np.asarray(scene.wall) * (1 + 0.5 * grain) * lit(np.array([0.0, 0.0, 1.0]))
    corners = np.array([[-900, table, -120], [900, table, -120], [900, table, 0], [-900, table, 0.0]])
    corners[2:, 2] = place[2] - 30
    mask = np.zeros((h, w), np.uint8)
    cv2.fillConvexPoly(mask, np.round(clip_near(corners, project, turn, place)).astype(np.int32), 255)
    wood = cv2.GaussianBlur(rng.normal(size=(h, w)), (0, 0), sigmaX=12 * fine, sigmaY=1.2 * fine)[..., None]
    image = np.where(mask[..., None] > 0, np.asarray(scene.table) * (1 + wood) * lit(np.array([0, 1.0, 0])), image)
    if scene.sheet:
        printed = printed_on(scene.paper)
        ph, pw = printed.shape[:2]
        flat = np.array([[-1, 1], [1, 1], [1, -1], [-1, -1.0]]) * [paper.width / 2, paper.height / 2]
        seen = project(np.c_[flat, np.zeros(4)]).astype(np.float32)
        own = np.array([[0, 0], [pw, 0], [pw, ph], [0, ph]], np.float32) - np.float32(0.5)
        matrix = cv2.getPerspectiveTransform(own, seen)
        warped = cv2.warpPerspective(printed, matrix, (w, h), flags=cv2.INTER_AREA)
        cover = cv2.warpPerspective(np.ones((ph, pw), np.float32), matrix, (w, h))[..., None]
        image = image * (1 - cover) + cover * warped * lit(np.array([0, 0, 1.0]))
    # shade on the table, soft
    shade = np.zeros((h, w), np.float32)
    round_about = np.linspace(0, 2 * math.pi, 60)
    ring = foot + np.c_[np.cos(round_about), np.zeros(60), np.sin(round_about)] * scene.body.width * 0.56
    ring -= np.array([light[0], 0, light[2]]) * 0.15 * scene.body.height
    cv2.fillPoly(shade, [np.round(project(ring)).astype(np.int32)], 0.35)
    image *= 1 - cv2.GaussianBlur(shade, (0, 0), 4 * fine)[..., None]
    image = paint(image, scene, foot, project, place, lit, rng)
    if scene.bell:
        image = glass(image, scene, foot, project)
    image = cv2.resize(image.astype(np.float32), scene.size, interpolation=cv2.INTER_AREA) * lamp
    image = cv2.GaussianBlur(image, (0, 0), 0.6)
    noisy = srgb(image) + rng.normal(size=image.shape) * scene.noise
    return np.clip(np.round(noisy * 255), 0, 255).astype(np.uint8)


def clip_near(corners: np.ndarray, project, turn: np.ndarray, place: np.ndarray) -> np.ndarray:
    """Corners of the table in the picture; the near ones are drawn in until they lie before the camera."""
    near = (corners - place) @ turn.T
    for i, far in ((2, 1), (3, 0)):
        if near[i, 2] < 20:
            part = (near[far, 2] - 20) / (near[far, 2] - near[i, 2])
            corners[i] = corners[far] + (corners[i] - corners[far]) * part
    return np.clip(project(corners), -20000, 20000)


def paint(image: np.ndarray, scene: Scene, foot: np.ndarray, project, place: np.ndarray, lit, rng) -> np.ndarray:
    """The body, from the far side to the near one."""
    p = surface(scene.body, scene.body_turn)
    p = np.concatenate([p, np.broadcast_to(p[-1:].mean(axis=1, keepdims=True), (1, *p.shape[1:]))]) + foot
    closed = np.concatenate([p, p[:, :1]], axis=1)
    quads = np.stack([closed[:-1, :-1], closed[:-1, 1:], closed[1:, 1:], closed[1:, :-1]], axis=2).reshape(-1, 4, 3)
    normal = np.cross(quads[:, 2] - quads[:, 0], quads[:, 3] - quads[:, 1])
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)
    out = quads.mean(axis=1) - foot
    normal *= np.sign((normal * (out - [0, out[:, 1].mean(), 0])).sum(axis=1, keepdims=True))
    kinds = kinds_of(scene.body, (p.shape[0] - 1, p.shape[1])).ravel()
    colour = ALBEDO[kinds] * (1 + 0.12 * rng.normal(size=(len(quads), 1)))
    colour *= (lit(normal) * (0.75 + 0.25 * np.clip(out[:, 1] / scene.body.height * 3, 0, 1)))[:, None]
    order = np.argsort(-np.linalg.norm(quads.mean(axis=1) - place, axis=1))
    pixels = np.round(project(quads) * 16).astype(np.int32)
    image = np.ascontiguousarray(image)
    for i in order:
        cv2.fillConvexPoly(image, pixels[i], colour[i].tolist(), shift=4)
    return image


def kinds_of(body: Body, shape: tuple[int, int]) -> np.ndarray:
    """Colour class of each cell of the surface, in blotches."""
    rng = np.random.default_rng(body.seed + 7)
    field_ = cv2.GaussianBlur(np.tile(rng.normal(size=(shape[0], shape[1] // 2)), (1, 2)), (0, 0), 4)
    ranks = np.argsort(np.argsort(field_.ravel())) / field_.size
    return np.searchsorted(np.cumsum(body.shares), ranks, side="right").clip(0, 3).reshape(shape)


def glass(image, scene: Scene, foot, project) -> np.ndarray:
    """A thin bell over the body: a bright rim and two reflections, as far as a picture shows it."""
    a = np.linspace(0, math.pi, 80)
    r, top = scene.body.width * 0.6, scene.body.height * 1.25
    rim = foot + np.c_[r * np.cos(a), top * np.sin(a), np.zeros(80)]
    over = np.zeros(image.shape[:2], np.float32)
    cv2.polylines(over, [np.round(project(rim)).astype(np.int32)], False, 0.5, 3)
    gleam = foot + np.c_[-0.6 * r + 2 * np.cos(2 * a), 0.6 * top + 8 * np.sin(2 * a), np.full(80, 0.5 * r)]
    cv2.fillPoly(over, [np.round(project(gleam)).astype(np.int32)], 0.4)
    return image * (1 - over[..., None]) + 0.8 * over[..., None]


def jpeg(pixels: np.ndarray, focal_35: float | None = None, taken: str = "2026:05:01 10:00:00") -> bytes:
    """The picture as a JPEG file with EXIF."""
    from PIL import Image

    exif = Image.Exif()
    inner = {0x9003: taken}
    if focal_35:
        inner[0xA405] = round(focal_35)
    exif[0x8769] = inner
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=92, exif=exif)
    return out.getvalue()


def covered(scene: Scene, fine: int = 2) -> np.ndarray:
    """How much of each pixel the body covers, 0 to 1."""
    foot, focal, turn, place = placed(scene)
    w, h = (side * fine for side in scene.size)
    p = surface(scene.body, scene.body_turn)
    p = np.concatenate([p, np.broadcast_to(p[-1:].mean(axis=1, keepdims=True), (1, *p.shape[1:]))]) + foot
    closed = np.concatenate([p, p[:, :1]], axis=1)
    quads = np.stack([closed[:-1, :-1], closed[:-1, 1:], closed[1:, 1:], closed[1:, :-1]], axis=2).reshape(-1, 4, 3)
    q = (quads - place) @ turn.T
    pixels = focal * fine * q[..., :2] / q[..., 2:] + np.array([(w - 1) / 2, (h - 1) / 2])
    mask = np.zeros((h, w), np.uint8)
    for quad in np.round(pixels * 16).astype(np.int32):
        cv2.fillConvexPoly(mask, quad, 255, shift=4)
    return cv2.resize(mask.astype(np.float32) / 255, scene.size, interpolation=cv2.INTER_AREA)
