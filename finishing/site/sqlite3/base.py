"""Django's SQLite, with ids that are read once: a list of a thousand rows names each of its other rows many times."""

import uuid
from functools import lru_cache

from django.db.backends.sqlite3 import base, operations

ids = lru_cache(2**16)(uuid.UUID)  # some ten megabytes; what never changes may be shared


class DatabaseOperations(operations.DatabaseOperations):
    def convert_uuidfield_value(self, value: str | None, expression: object, connection: object) -> uuid.UUID | None:
        return None if value is None else ids(value)


class DatabaseWrapper(base.DatabaseWrapper):
    ops_class = DatabaseOperations
