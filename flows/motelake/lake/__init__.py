"""A lake's storage, over fsspec: objects, the chain of manifests, verdicts and decisions."""
