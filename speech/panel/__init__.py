"""Several opinions on one clip, weighed together."""
