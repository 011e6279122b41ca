"""An invented proof with round figures, so that what is printed can be read off by hand."""

import numpy as np

from nestwright.climate.results import LimitResult, Proof, Week, WindowMap, YearProof, ZoneState
from nestwright.climate.size_results import Side, Sized, SizeResult, TradeOff, TradePoint, YearCheck


def limit(**changed):
    values = {
        "name": "pot: humidity",
        "zone": "pot",
        "quantity": "relative_humidity",
        "low": 0.95,
        "high": None,
        "value": 0.9712,
        "low_value": 0.9591,
        "high_value": 0.9788,
        "margin": 0.0212,
        "scaled_margin": 2.12,
        "held": True,
        "sure": True,
        "rests_on": ("garden.respiration",),
        "source": "invented",
        "mark": "published",
    }
    return LimitResult(**(values | changed))


def proof(**changed):
    zone = ZoneState(
        "pot", "garden", 297.15, 0.9712, 85.93, 0.0123, 0.1951, {"side": -0.24, "top": 1.31}, {"side": 0.0021}
    )
    warm = limit(
        name="pot: temperature",
        quantity="temperature",
        low=295.15,
        high=298.15,
        value=299.15,
        low_value=298.85,
        high_value=299.45,
        margin=-1.0,
        scaled_margin=-2.0,
        held=False,
        rests_on=(),
        mark="judgement",
    )
    values = {
        "habitat": "Pot [one]",
        "revision": "B",
        "species": "Acromyrmex octospinosus",
        "room": "ant room",
        "room_temperature": 294.15,
        "room_relative_humidity": 0.45,
        "zones": (zone,),
        "limits": (limit(), warm),
        "water_rate": 1.2345e-3 / 86400,
        "refill_time": 12.34 * 86400,
        "drip_rate": 0.0,
        "heater_power": 1.6,
        "heater_duty": 0.4,
        "balances": {"energy": 1e-9, "water": 2e-10, "carbon": 3e-10, "oxygen": 4e-10},
        "judgements": ("garden.respiration",),
    }
    return Proof(**(values | changed))


def year(**changed):
    hours = np.arange(0.0, 49.0)
    shares = [
        limit(hours_held_share=0.99997),
        limit(
            name="pot: CO2",
            quantity="co2",
            low=None,
            high=0.03,
            value=0.01,
            low_value=0.008,
            high_value=0.012,
            margin=0.02,
            scaled_margin=4.0,
            hours_held_share=1.0,
        ),
    ]
    values = {
        "mean": proof(limits=tuple(shares)),
        "time": hours * 3600,
        "start": "2001-01-01T00:00:00",
        "series": {
            "room": {"temperature": 294.15 + 0 * hours, "relative_humidity": 0.45 + 0 * hours},
            "pot": {
                "temperature": 297.15 + 0 * hours,
                "relative_humidity": 0.97 + 0 * hours,
                "co2": 0.01 + 0 * hours,
                "o2": 0.2 + 0 * hours,
            },
            "water": {"pot": 0.1 - 1e-4 * hours},
        },
        "worst_weeks": (Week(0.0, "2001-01-01", "pot: humidity", 5.0, -0.012),),
        "refills": 3,
        "dry_hours": 0.0,
        "steps": 100,
        "seconds_used": 0.1,
    }
    return YearProof(**(values | changed))


def window(**changed):
    t, h = np.linspace(288.15, 303.15, 16), np.linspace(0.2, 0.8, 13)
    warm = np.repeat((297.15 - t)[:, None], 13, axis=1)
    dry = np.repeat((h - 0.4)[None, :], 16, axis=0) * 10
    values = {
        "habitat": "Pot",
        "revision": "B",
        "temperature": t,
        "relative_humidity": h,
        "limits": ("pot: temperature", "pot: humidity"),
        "scaled_margin": np.stack([warm, dry]),
        "room": "",
        "room_temperature": np.zeros(0),
        "room_relative_humidity": np.zeros(0),
        "share_inside": None,
        "ends": {"warm": "pot: temperature", "dry": "pot: humidity"},
        "converged_share": 1.0,
    }
    return WindowMap(**(values | changed))


def sized(**changed):
    side = Side("pot: CO2, at most", "pot: CO2", "co2", 0.03, 0.02, 2.0, -1.0, 3.0, 300.15, 0.7)
    points = tuple(TradePoint({"vent.crown.count": str(n)}, n / 10, 2 - n / 10, 0.5) for n in range(4, 21))
    values = {
        "habitat": "Pot",
        "revision": "B",
        "rooms": ("ant room",),
        "room_points": 26,
        "free": (Sized("vent.crown.count", "", "40", "4", "40", "high"),),
        "worst_before": -1.0,
        "worst_margin": 0.34,
        "limits": (side,),
        "forbids": "",
        "trade_off": TradeOff("pot: CO2, at most", "pot: humidity, at least", points),
        "years": (YearCheck("ant room", False, -0.5, "pot: CO2", 0.99999),),
        "evaluations": 100,
        "refused": 3,
        "stopped": False,
        "notes": ("a note",),
    }
    return SizeResult(**(values | changed))
