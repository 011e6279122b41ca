"""From a habitat to what is made: parts, solids, sheets, their files, what they cost."""
