"""The correction by estimation: what is believed of a planter, its rows and their next settings."""
