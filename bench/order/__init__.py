"""How fast the one question is answered: generators, a competitor, and the table."""
