"""Plugins: which are installed, and one of them hosted. Only children of the run import the hosting modules.

In the parent's reach (no plugin library): catalogue, builtin_table, described. In a worker: everything.
"""
