"""The forms that the record's database had, and the steps from each to the next."""
