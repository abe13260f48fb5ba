"""Who may see the page: phones that are paired, their codes, and the door for all others."""
