"""Colony and garden: growth, fit to a record, forecast, diagnosis, plan and rescue."""

from nestwright.compiled import keep_compiled

keep_compiled()
