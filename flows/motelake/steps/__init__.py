"""The steps of a run as plain functions: no orchestrator, progress as lines of text."""
