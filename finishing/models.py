"""Where Django looks for the rows of the app `finishing`; each floor keeps its own."""

import finishing.air.models
import finishing.coatings.models
import finishing.media.models
import finishing.workshops.models  # noqa: F401
