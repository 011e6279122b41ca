"""Logger files of any make: recognise how one is written, confirm it, keep the mapping, read the readings."""

from nestwright.sensing.loggers.mapping import Column, Decision, Mapping, confirm
from nestwright.sensing.loggers.mapping_file import fits, load_mapping, read_mapping, to_toml
from nestwright.sensing.loggers.reading import Part, read_in_pieces, read_readings
from nestwright.sensing.loggers.readings import Channel, Conflict, Fault, Jump, Readings, merge
from nestwright.sensing.loggers.recognising import recognise

__all__ = [
    "Channel",
    "Column",
    "Conflict",
    "Decision",
    "Fault",
    "Jump",
    "Mapping",
    "Part",
    "Readings",
    "confirm",
    "fits",
    "load_mapping",
    "merge",
    "read_in_pieces",
    "read_mapping",
    "read_readings",
    "recognise",
    "to_toml",
]
