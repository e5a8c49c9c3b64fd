"""Studies: what is varied, what is wanted, how it is sampled, and the file that says so."""
