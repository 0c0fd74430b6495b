"""The warehouse: hearings in, bursts, readings, minutes and snapshots out, all in DuckDB."""
