from plugin_fixtures import pool, probes

__all__ = ["pool", "probes"]
