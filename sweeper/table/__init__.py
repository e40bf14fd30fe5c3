"""Rows, and the table as CSV, JSON and text."""
