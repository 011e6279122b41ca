"""Made results of the colony's computations, with values that are easy to follow. Invented colonies throughout."""

from dataclasses import replace
from datetime import date

import numpy as np

from nestwright.colony.results import (
    Band,
    Cause,
    DateSpan,
    Diagnosis,
    Estimate,
    Fit,
    Forecast,
    Plan,
    PlanStep,
    Point,
    Rescue,
    RescueCase,
)

START = date(2031, 10, 6)


def band(name, unit, day, middle, spread):
    day, middle = np.asarray(day, float), np.asarray(middle, float)
    factor = np.exp(1.28 * np.broadcast_to(np.asarray(spread, float), middle.shape))
    return Band(name, unit, day, middle / factor, middle, middle * factor)


def point(day, kind, value, error=0.1, how="exact"):
    low, high = value * (1 - 1.28 * error), value * (1 + 1.28 * error)
    return Point(day, kind, how, value, low, high, low, value * 1.02, high, 0.4)


def fit(days=120, **changes):
    day = np.arange(days + 1)
    garden, workers = 60 * np.exp(0.018 * day), 40 * np.exp(0.022 * day)
    points = (
        *(point(d, "garden", 60 * np.exp(0.018 * d) * (1 + 0.06 * (-1) ** k), 0.15, "fill" if k % 3 else "measured")
          for k, d in enumerate(range(3, days, 11))),
        *(point(d, "workers", 40 * np.exp(0.022 * d) * (1 - 0.05 * (-1) ** k), 0.2, "guess" if k % 2 else "exact")
          for k, d in enumerate(range(5, days, 19))),
        point(4, "larvae", 1.0, 0.0, "exact"),
    )  # fmt: skip
    whole = Fit(
        "Balcony three", "Acromyrmex octospinosus", START, days, ("rate",), np.zeros((4, 1)), -80.0, 0.2,
        (Estimate("rate", "1/d", (0.01, 0.03, 0.06), 0.015, 0.02, 0.025, "judgement", "no published value", 0.7),),
        points,
        {"garden": band("garden", "mL", day, garden, 0.08), "workers": band("workers", "1", day, workers, 0.1)},
        0.82, ("fill_low",),
    )  # fmt: skip
    return replace(whole, **changes)


def forecast(days=120, horizon=90, **changes):
    ahead = np.arange(horizon + 1)
    day, spread = days + ahead, 0.08 + 0.004 * ahead
    garden = 60 * np.exp(0.018 * days) * np.exp(0.016 * ahead)
    workers = 40 * np.exp(0.022 * days) * np.exp(0.02 * ahead)
    made = {
        "garden": ("mL", garden), "fill": ("1", garden / 900), "workers": ("1", workers), "eggs": ("1", workers * 0.3),
        "larvae": ("1", workers * 0.2), "pupae": ("1", workers * 0.15 + 8 * np.sin(ahead / 8)),
        "leaf_mass": ("g dry/day", garden / 800), "leaf_fresh": ("g/day", garden / 200),
        "leaf_area": ("cm2/day", garden / 4), "waste": ("g/day", garden / 700), "respiration": ("mol/s", garden * 1e-9),
    }  # fmt: skip
    bands = {k: band(k, unit, day, values, spread) for k, (unit, values) in made.items()}
    bands["leaf_given"] = band("leaf_given", "g/day", day, np.full(horizon + 1, 4.0), 0.0)
    whole = Forecast(
        fit(days), horizon, bands,
        (
            DateSpan("bell_full", "the bell is full", 1.0, days + 18.0, days + 24.0, days + 31.0),
            DateSpan("next_chamber", "the next chamber is needed", 0.6, days + 52.0, days + 77.0, None),
            DateSpan("first_workers", "first workers born here come out", 1.0, days + 9.0, days + 12.0, days + 16.0),
            DateSpan("leaves_short", "more leaves are needed than are given", 0.04, None, None, None),
        ),
        (
            DateSpan("bell", "start making the next bell", 1.0, days - 3.0, days + 3.0, days + 10.0),
            DateSpan("chamber", "start making the next chamber", 0.7, days + 20.0, days + 45.0, None),
        ),
        ((0.0, "small bell", 150.0), (38.0, "bell 2", 400.0), (95.0, "bell 3", 900.0)),
        ((12.0, "donor garden 20 mL"), (38.0, "bell 2"), (40.0, "window left open"), (61.0, "thermostat stuck"),
         (64.0, "privet given"), (95.0, "bell 3"), (104.0, "mite treatment of leaves")),
        0.97,
    )  # fmt: skip
    return replace(whole, **changes)


def diagnosis(days=60, **changes):
    at = np.arange(5.0, days + 1, 5.0)
    rise = 1 / (1 + np.exp(-(at - 35) / 5))
    shares = {
        "too dry": 0.8 * rise + 0.05, "nothing wrong": 0.7 * (1 - rise) + 0.02, "too few leaves": 0.15 + 0 * at,
        "queen lost or not laying": 0.06 * (1 - rise) + 0.01, "harmful leaf": 0.01 + 0 * at,
    }  # fmt: skip
    causes = tuple(
        Cause(name, name, float(share[-1]), -50.0, (25.0, 33.0, 39.0) if name == "too dry" else None, None, "")
        for name, share in shares.items()
    )  # fmt: skip
    whole = Diagnosis(
        "Balcony three", "Acromyrmex octospinosus", START, days, causes, "too dry",
        "count the larvae on 9 December 2031", 64.0, 0.6, at, shares, ("dry",),
    )  # fmt: skip
    return replace(whole, **changes)


def plan(days=120, horizon=90, **changes):
    ahead = np.arange(horizon + 1)
    usable = np.where(ahead < 14, 900, np.where(ahead < 50, 1800, 3600))
    middle = 60 * np.exp(0.018 * days) * np.exp(0.016 * ahead) / usable
    before, after = (0.6, 0.7, 0.8), (0.3, 0.35, 0.4)
    steps = (
        PlanStep(days + 14.0, "bell", "bell 4", 1800.0, 0.14, 0.13, False, days + 7.0, before, after),
        PlanStep(days + 50.0, "chamber", "garden chamber", 3600.0, 0.0, 0.0, True, days + 20.0, before, after),
    )
    whole = Plan(
        forecast(days, horizon), steps, (0.71, 0.86, 0.95), 2, 14.0,
        band("fill", "1", days + ahead, middle, 0.08 + 0.004 * ahead), ({"what": "one bell less", "cost": 20.0},),
    )  # fmt: skip
    return replace(whole, **changes)


def rescue(**changes):
    made = [(0.0, 0.02), (5.0, 0.2), (10.0, 0.45), (20.0, 0.74), (40.0, 0.92), (80.0, 0.97)]
    cases = tuple(
        RescueCase(
            g, p, (max(0.0, p - 0.12), min(1.0, p + 0.06)), (1.0, 2.0, 3.0), (40.0, 50.0, None),
            (0.0, 30.0, 60.0), (0.0, 40.0, 90.0),
        )
        for g, p in made
    )  # fmt: skip
    whole = Rescue("Atta sexdens", True, 25.0, (10.0, 8.0, 4.0), 120, cases, 40.0, ("tend_min",))
    return replace(whole, **changes)
