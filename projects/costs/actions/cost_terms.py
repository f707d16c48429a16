"""How far the inputs of a design's costs may lie from what is reckoned with, kept with its terms."""

from collections.abc import Iterable

from django.db import transaction

from projects.record.models import CostTerms
from projects.record.models.cost_terms import CostRange


@transaction.atomic
def keep_ranges(terms: CostTerms, ranges: Iterable[CostRange]) -> None:
    """These and no others; terms that were only the usual ones so far are kept with them."""
    terms.save()
    terms.ranges.all().delete()
    for row in ranges:
        row.terms, row.workshop_id = terms, terms.workshop_id
        row.save()
