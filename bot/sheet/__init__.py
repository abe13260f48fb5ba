"""The summary of a test run as a picture for a phone at night and as pages to print: one drawing, two ways to paint."""
