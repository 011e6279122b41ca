"""What each table of the record holds, in words."""

from __future__ import annotations

__all__ = ["SAYS"]

SAYS = {
    "workshop": "settings of the whole workshop, as the time zone of its days",
    "build": "a habitat that was really made: serial, design and revision, day, where it stands",
    "measured": "a value measured on a build",
    "quality": "a point of a build's quality check: passed, failed or still to do",
    "colony": "a colony: species, origin, queen, what it came with, its chamber, its end",
    "stay": "since which day a colony lives in which build",
    "bell": "a bell, or the whole chamber, over the garden from a day on",
    "visit": "one look at one colony: garden, its error and look, leaves taken, waste, note",
    "count": "animals counted at a visit, exactly, by guess or as a band",
    "brood": "a kind of brood that was seen at a visit, or looked for in vain",
    "feeding": "leaves given at a visit, by plant, in g or cm2",
    "event": "what was done to a colony or befell it; donations name the other colony",
    "parcel": "a box that brought or took a colony, or garden for one: route, box, pack, times, what was found in it",
    "parcel_scan": "where a parcel was seen on its way, and when",
    "buyer": "who bought a build: no more than a name and one way to reach them, until they ask to be forgotten",
    "sale": "which build went to which buyer, when, for how much, in which parcel; its return",
    "feedback": "what a buyer told of a build: praise, a question or a fault",
    "stock": "made parts that came into stock or went out of it",
    "photo": "a photo, its file's sum and what was measured on it",
    "logger": "a logger, and how its files are read",
    "channel": "one quantity of a logger, with its unit",
    "placement": "where a logger was, since when and until when",
    "calibration": "a calibration of a channel: points, fit and covariance",
    "alarm": "an alarm: why, since when, acknowledged or snoozed until when",
    "change": "the history: every row as it was before and after each act",
    "reading": "one raw value of a channel",
    "rollup": "the readings of an hour: how many, least, most and sum",
}
"""What a row of each table is, in one line; docs/record.md shows them."""
