"""Sheets: each turns one question's values into a figure with its working and sources."""
