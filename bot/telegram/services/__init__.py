"""What the chat itself does for a member: farm, people, summaries, tables."""
