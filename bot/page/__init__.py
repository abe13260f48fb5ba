"""A page for phones and tablets within reach of this computer: the conversation of this machine, without internet."""
