"""Sensors, and the heaters that they steer."""

from __future__ import annotations

from nestwright.habitat.making_network import Making

__all__ = ["add_heat"]


def add_heat(net: Making) -> None:
    """Sensors with their lag, and heaters in air, water or a wall."""
    nodes = {}
    for s in net.habitat.sensors:
        name = f"{s.chamber}/bell" if s.under_bell else s.chamber
        nodes[s.name] = net.b.node(f"sensor:{s.name}", net.v("sensor_capacity"))
        net.b.connect(nodes[s.name], net.zone[name], net.v("sensor_capacity") / max(s.lag, 1.0))
    for heater in net.habitat.heaters:
        chamber, where = heater.where
        if where == "air":
            target = net.zone[chamber]
        elif where == "water":
            target = net.water_in[net.zone[chamber]]
        else:
            target = net.outer[(chamber, where)]
        sensor = nodes.get(heater.sensor, target)
        net.b.heater(heater.name, target, heater.power, heater.control, heater.set_point, heater.band, sensor)
