"""The logbook's tables, step by step from the first version to the newest."""
