"""A past master made again from its recall sheet, and the proof that it is the same."""
