"""Reports for people: a trial, or a comparison of trials, as one page that needs nothing else."""

from __future__ import annotations
