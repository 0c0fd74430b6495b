"""The library of views: what stands under sql/, read, ordered and ready to be created or called."""

from motelake.library.about import Column, Entry, Parameter
from motelake.library.call import call
from motelake.library.folder import Library, read_library, read_sql
from motelake.library.statements import comments, create_statement, literal, statements, table_statements

__all__ = [
    "Column",
    "Entry",
    "Library",
    "Parameter",
    "call",
    "comments",
    "create_statement",
    "literal",
    "read_library",
    "read_sql",
    "statements",
    "table_statements",
]
