"""What is done with the terms on which a design's costs are reckoned."""

from projects.models import CostTerms


def save_terms(terms: CostTerms) -> CostTerms:
    terms.save()
    return terms
