"""The lines of the recipe's form, one module for each group of them."""
