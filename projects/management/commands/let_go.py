"""What was deleted 30 days ago goes for good; `serve` does so each day by itself."""

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from projects.keeping.actions.letting_go import let_go


class Command(BaseCommand):
    help = "Delete for good what was deleted 30 days ago or before, with its log and photos."

    def handle(self, *args: Any, **options: Any) -> None:
        for gone in let_go(timezone.now()):
            self.stdout.write(f"Gone for good: {gone}.")
