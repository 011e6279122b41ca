"""The workshop on disk and its record: the only place that writes."""
