"""Live readings: topics and messages of sensors mapped to channels, without any connection."""

from nestwright.sensing.live.mapping import Broker, Clock, LiveMapping, Topic, Wanted
from nestwright.sensing.live.mapping_file import load_live_mapping, read_live_mapping
from nestwright.sensing.live.messages import Fault, Message, Reading, read_message
from nestwright.sensing.live.posted import read_posted
from nestwright.sensing.live.topics import Pattern, read_pattern

__all__ = [
    "Broker",
    "Clock",
    "Fault",
    "LiveMapping",
    "Message",
    "Pattern",
    "Reading",
    "Topic",
    "Wanted",
    "load_live_mapping",
    "read_live_mapping",
    "read_message",
    "read_pattern",
    "read_posted",
]
