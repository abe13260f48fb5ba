"""What an entry does: values kept, commands carried out, doubts settled, what was said taken back."""
