"""How well people, methods and repeated measurements agree, on tidy tables of subject, rater, trial, method, value."""
