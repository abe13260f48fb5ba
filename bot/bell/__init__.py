"""The bell: how reminders of a shift are worded."""
