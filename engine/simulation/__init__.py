"""A simulated planter and the test runs that bring it in: for the benchmark of the correction and for the demo."""
