"""Workbooks: written with native formulas and their values, read as packages, and rewritten for other hosts."""
