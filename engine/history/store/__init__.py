"""The tables, and the journal in them: facts appended once, with snapshots of where they lead."""
