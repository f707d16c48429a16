"""Serve one's own workshop; at the very first start, print the link by which its owner begins."""

from typing import Any

from django.urls import reverse

from finishing.workshops.actions.workshops import first_link

from ._server import ServerCommand


class Command(ServerCommand):
    help = "Prepare the data folder and serve the workshop until Ctrl-C."

    def tell(self, addresses: list[str]) -> None:
        link: Any = first_link()
        path = reverse("first-start", args=[link.token]) if link else "/"
        self.say(*(f"Fettlebook: {address}{path}" for address in addresses))
        if link:
            self.say("This is the first start: open the link above to make your account and workshop. It works once.")
