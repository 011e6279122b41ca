"""Imported by the process that commands are forked from: what pages work out is read and used once, small, so that
none of them has to read the kernels from disk."""

import compiling

compiling.air()
compiling.parcel()
compiling.colony()
