"""Benchmarks: a module each, all run by run.py."""
