"""An invented forecast with round figures, so that what is printed can be read off by hand."""

from datetime import date

import numpy as np

from nestwright.colony.pace import pace_of
from nestwright.colony.results import Band, DateSpan, Estimate, Fit, Forecast, Point
from nestwright.errands.forecast import Told
from nestwright.errands.garden_climate import Water

START = date(2031, 3, 1)
TODAY = 40


def band(name, unit, first, days, middle):
    middle = np.broadcast_to(np.asarray(middle, dtype=float), (days + 1,))
    return Band(name, unit, first + np.arange(days + 1.0), middle * 0.5, middle, middle * 2)


def fit(**changed):
    values = {
        "colony": "Attic [two]",
        "species": "Acromyrmex octospinosus",
        "start": START,
        "days": TODAY,
        "names": ("uptake", "carry", "laying_max"),
        "draws": np.zeros((2, 3)),
        "log_evidence": -12.0,
        "log_evidence_error": 0.1,
        "estimates": (
            Estimate("uptake", "1/d", (0.05, 0.1, 0.2), 0.08, 0.1, 0.12, "judgement", "invented", 0.6),
            Estimate("carry", "g/d", (0.001, 0.003, 0.009), 0.002, 0.0061, 0.009, "derived", "invented", 0.1),
            Estimate("laying_max", "1/d", (100.0, 300.0, 900.0), 100.0, 310.0, 900.0, "judgement", "invented", 0.0),
        ),
        "points": (
            Point(10.0, "garden", "measured", 50.0, 45.0, 55.0, 40.0, 48.0, 60.0, 0.2, 17),
            Point(20.0, "workers", "exact", 300.0, 290.0, 310.0, 90.0, 120.0, 160.0, 3.4, 21),
            Point(30.0, "pupae", "", 1.0, 1.0, 1.0, 0.004, 0.004, 0.004, None, 25),
            Point(31.0, "larvae", "", 1.0, 1.0, 1.0, 0.97, 0.97, 0.97, None, 26),
        ),
        "history": {
            "garden": band("garden", "mL", 0, TODAY, 45.0),
            "workers": band("workers", "1", 0, TODAY, 100.0),
        },
        "inside": 0.5,
        "judgements": ("laying_max",),
        "notes": ("a remark of the reader",),
    }
    return Fit(**(values | changed))


def forecast(days=90, **changed):
    ahead = np.arange(days + 1.0)
    garden = 60 * np.exp(0.02 * ahead)
    units = {
        "garden": ("mL", garden),
        "fill": ("1", garden / 400),
        "workers": ("1", 120 + 2 * ahead),
        "eggs": ("1", 40.0),
        "larvae": ("1", 30.0),
        "pupae": ("1", 20.0),
        "leaf_dry": ("g/day", 0.3),
        "leaf_fresh": ("g/day", 1.0),
        "leaf_area": ("cm2/day", 45.0),
        "waste": ("g/day", 0.2),
        "respiration": ("mol/s", 4e-8),
    }
    values = {
        "fit": fit(),
        "horizon": days,
        "bands": {name: band(name, unit, TODAY, days, middle) for name, (unit, middle) in units.items()},
        "dates": (
            DateSpan("bell_full", "fill reaches 80 %", 0.85, 85.0, 110.0, None),
            DateSpan("next_chamber", "garden reaches 80 % of the chamber", 0.0, None, None, None),
        ),
        "make_by": (DateSpan("bell", "start making the next bell, 50 days before", 0.85, 35.0, 60.0, None),),
        "housing": ((0.0, "first bell", 400.0),),
        "events": ((12.0, "garden added 20 mL"),),
        "survival": 0.97,
        "notes": (
            "a remark of the reader",
            "leaves of the days to come: as many as the colony takes, also where the record counts those given",
        ),
    }
    return Forecast(**(values | changed))


def told(**changed):
    """Gardens that grow by 1, 2 and 3 % a day."""
    days = np.arange(91.0)
    garden = 60 * np.exp(np.array([[0.01], [0.02], [0.03]]) * days)
    values = {
        "forecast": forecast(),
        "pace": pace_of(garden, float(TODAY)),
        "climate": ("logger attic.csv, 30 of 41 days of the record",),
        "water": Water("Single pot", 4.321, 12.34),
    }
    return Told(**(values | changed))
