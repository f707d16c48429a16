"""Where Django looks for the rows of the app `projects`; they are kept in `record.models`."""

from projects.record import models

__all__ = ["models"]
