"""Simulated planters: test runs that bring one in, and nights in which a row quits; for benchmarks and the demo."""
