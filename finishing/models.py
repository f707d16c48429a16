"""Where Django looks for the rows of the app `finishing`; each floor keeps its own."""

from finishing.air import models as air
from finishing.coatings import models as coatings
from finishing.media import models as media
from finishing.workshops import models as workshops

__all__ = ["air", "coatings", "media", "workshops"]
