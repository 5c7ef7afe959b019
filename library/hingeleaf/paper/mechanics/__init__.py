"""Mechanics of card: strength of webs and hinges, spring-back of folds, what trials teach."""
