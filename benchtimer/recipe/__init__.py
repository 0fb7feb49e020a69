"""Recipes: the model, the reader with its precise errors, the writer and the shelf."""
