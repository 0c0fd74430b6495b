"""Great Expectations, imported at half of what it costs otherwise.

Every expectation it knows is imported with it, and with a few of them the statistics of SciPy and the charts
of Altair. The gate uses neither, so they are imported once something is asked of them.
"""

import gc
import logging
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from types import ModuleType
from typing import Any

SELDOM_USED = ("scipy.stats", "altair")


def import_great_expectations() -> ModuleType:
    """The library, which sends nothing from this machine and speaks of errors only."""
    if "great_expectations" in sys.modules:
        return sys.modules["great_expectations"]
    # Read while the library is imported: nothing about a lake leaves this machine.
    os.environ["GX_ANALYTICS_ENABLED"] = "false"
    logging.getLogger("great_expectations").setLevel(logging.ERROR)
    with _imported_later(SELDOM_USED), _without_collecting():
        library = import_module("great_expectations")
    # This module sets a level of its own, to speak of a folder that it makes and takes away.
    logging.getLogger("great_expectations.data_context.types.base").setLevel(logging.ERROR)
    return library


class _Later(ModuleType):
    """Stands for a module until something of it is asked for.

    importlib's LazyLoader would load it as soon as a second module imports it.
    """

    def __getattr__(self, name: str) -> Any:
        # What Python itself asks of every module that it finds.
        if name.startswith("__"):
            raise AttributeError(name)
        if sys.modules.get(self.__name__) is self:
            del sys.modules[self.__name__]
        return getattr(import_module(self.__name__), name)


@contextmanager
def _imported_later(names: tuple[str, ...]) -> Iterator[None]:
    stand_ins = {name: _Later(name) for name in names if name not in sys.modules}
    sys.modules.update(stand_ins)
    try:
        yield
    finally:
        for name, stand_in in stand_ins.items():
            if sys.modules.get(name) is stand_in:
                del sys.modules[name]


@contextmanager
def _without_collecting() -> Iterator[None]:
    """A thousand classes are made and all stay: looking for waste again and again took half a second."""
    was_enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_enabled:
            gc.enable()
