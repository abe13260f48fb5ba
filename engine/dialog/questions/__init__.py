"""What an operator may ask about the job, and what is answered."""
