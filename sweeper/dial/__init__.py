"""Dialling a stage in its plugin's own window, on a loop of the music, and keeping what was dialled."""
