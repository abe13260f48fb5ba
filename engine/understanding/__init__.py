"""What people say in their own words: meanings by weighed features, values by where they stand in the sentence."""
