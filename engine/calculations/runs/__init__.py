"""A test run: before it is driven, and what it says of rows and machine."""
