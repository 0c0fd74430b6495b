"""The steps as Prefect flows: when and on what, never how."""
