"""What a clause tells, once it is known what it is about: values, options, names, reports."""
