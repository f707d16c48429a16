"""Where Django looks for the rows of the app `projects`; they are kept in `record.models`."""

import projects.record.models  # noqa: F401
