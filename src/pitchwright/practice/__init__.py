"""The practice rig: simulated converters, cores, trimmers and hands, for practice and tests."""
