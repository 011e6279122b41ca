"""Heat and oxygen of iron that rusts: 4 Fe + 3 O2 -> 2 Fe2O3."""

from __future__ import annotations

from nestwright.data import read_values

__all__ = ["energy_per_gram_of_iron", "energy_per_mol_oxygen", "oxygen_per_gram_of_iron"]


def energy_per_gram_of_iron() -> float:
    """J per g of iron, from the standard enthalpy of formation of hematite (data/parcel.toml).

    >>> round(energy_per_gram_of_iron() / 1e3, 2)
    7.39
    """
    values = read_values("parcel.toml")
    return -values["oxide_enthalpy"].value / 2 / (values["iron_molar_mass"].value * 1e3)


def oxygen_per_gram_of_iron() -> float:
    """mol of O2 per g of iron: 3/4 of its moles.

    >>> round(oxygen_per_gram_of_iron() * 1e3, 2)  # mmol
    13.43
    """
    return 0.75 / (read_values("parcel.toml")["iron_molar_mass"].value * 1e3)


def energy_per_mol_oxygen() -> float:
    """J per mol of O2 that iron takes.

    >>> round(energy_per_mol_oxygen() / 1e3)
    550
    """
    return energy_per_gram_of_iron() / oxygen_per_gram_of_iron()
