"""Measurements of time and memory, to be run by hand; nothing here is a test."""
