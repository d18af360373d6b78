"""Statements of a survey, measured in worlds that it was not built on."""
