"""Great Expectations, imported at a third of what it costs otherwise.

It imports all that it knows of: every expectation and every kind of data source, a model each; SciPy's
statistics; and the clients of databases and clouds where they are installed. The gate holds one kind of
expectation against data frames.
"""

import gc
import logging
import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from types import ModuleType
from typing import Any

SELDOM_USED = ("scipy.stats",)
"""Imported once something is asked of them."""
OPTIONAL = ("azure", "boto3", "botocore", "google", "pyspark", "sqlalchemy")
"""Great Expectations does without these where they are not installed."""
KINDS = {
    "great_expectations.datasource.fluent": "*_datasource.py",
    "great_expectations.expectations.core": "expect_*.py",
}
"""Packages that import a module a kind, and what such a module's file is called."""
IN_USE = ("invalid_datasource", "pandas_datasource", "expect_column_values_to_be_between")


def import_great_expectations() -> ModuleType:
    """The library, which sends nothing from this machine and speaks of errors only.

    In this process it knows by itself what is in use here, and another kind once its module is imported.
    Where it was imported before, it is taken as it is.
    """
    if "great_expectations" in sys.modules:
        return sys.modules["great_expectations"]
    # Read while the library is imported: nothing about a lake leaves this machine.
    os.environ["GX_ANALYTICS_ENABLED"] = "false"
    logging.getLogger("great_expectations").setLevel(logging.ERROR)
    with _standing_in(_stand_ins()), _without_collecting():
        library = import_module("great_expectations")
    # This module sets a level of its own, to speak of a folder that it makes and takes away.
    logging.getLogger("great_expectations.data_context.types.base").setLevel(logging.ERROR)
    return library


class _Later(ModuleType):
    """Stands for a module until something of it is asked for.

    importlib's LazyLoader would load it as soon as a second module imports it.
    """

    def __getattr__(self, name: str) -> Any:
        _refuse_special(name)
        if sys.modules.get(self.__name__) is self:
            del sys.modules[self.__name__]
        return getattr(import_module(self.__name__), name)


class _Nothing(ModuleType):
    """Stands for a module of which classes are imported by name and not used."""

    def __getattr__(self, name: str) -> Any:
        _refuse_special(name)
        return type(name, (), {})


def _refuse_special(name: str) -> None:
    # What Python itself asks of every module that it finds.
    if name.startswith("__"):
        raise AttributeError(name)


def _stand_ins() -> dict[str, Any]:
    """What is found in place of each module; None says that it is not installed."""
    return {
        **dict.fromkeys(OPTIONAL),
        **{name: _Later(name) for name in SELDOM_USED},
        **{name: _Nothing(name) for name in _unused_kinds()},
    }


def _unused_kinds() -> list[str]:
    library = find_spec("great_expectations")
    if library is None or library.origin is None:
        return []
    above = Path(library.origin).parent.parent
    return [
        f"{package}.{file.stem}"
        for package, files in KINDS.items()
        for file in above.joinpath(*package.split(".")).glob(files)
        if file.stem not in IN_USE
    ]


@contextmanager
def _standing_in(stand_ins: Mapping[str, Any]) -> Iterator[None]:
    """Within it, these are found in place of modules that are not imported yet."""
    new = {name: module for name, module in stand_ins.items() if name not in sys.modules}
    sys.modules.update(new)
    try:
        yield
    finally:
        for name, module in new.items():
            if name in sys.modules and sys.modules[name] is module:
                del sys.modules[name]


@contextmanager
def _without_collecting() -> Iterator[None]:
    """A million objects are made and all stay: looking for waste among them took half a second and more."""
    was_enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        # Nor are they looked through later.
        gc.freeze()
        if was_enabled:
            gc.enable()
