"""The command `motelake`: one small file a group of commands, loaded when it is called."""

from motelake.cli.ending import main

__all__ = ["main"]
