"""What each clause of a sentence is about, by learned weights, and what was taken back."""
