"""How a reply is worded: values, lists, questions, and the same for the ear."""
