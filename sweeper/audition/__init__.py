"""Hearing a run: the page and its server, blind files, what a player makes of a pick, and what to hand on."""
