"""What is done with colours that are tried out and with a nameplate's words: chosen for the part, shared."""

from django.db import transaction

from projects.record.actions.changes import note_change
from projects.record.models import Candidate, OrderLine, SheetAddress, TryOut, Wording


@transaction.atomic
def choose(candidate: Candidate) -> None:
    """The part is lettered and painted so from now on: on its page, in the plan, on the paint list.

    What the candidate does not say (the body, the tin of the letters) stays as the part has it.
    """
    part = candidate.try_out.part
    part.lettering_colour = candidate.letters
    part.colour = candidate.body or part.colour
    part.lettering_coating = candidate.letters_coating or part.lettering_coating
    part.save()
    candidate.try_out.candidates.exclude(pk=candidate.pk).update(chosen=False)
    Candidate.objects.filter(pk=candidate.pk).update(chosen=True)
    note_change(part.workshop_id)


@transaction.atomic
def renew_sheet_address(try_out: TryOut) -> SheetAddress:
    """A new address for the sheet; those before it open nothing any more."""
    close_sheet(try_out)
    return SheetAddress.objects.create(workshop_id=try_out.workshop_id, try_out=try_out)


def close_sheet(try_out: TryOut) -> None:
    try_out.addresses.in_use().update(closed=True)


@transaction.atomic
def choose_wording(wording: Wording) -> list[OrderLine]:
    """The nameplate says these words from now on. Comes back: what is ordered already with others, or with none."""
    part = wording.part
    part.wording, part.lettering, part.nameplate = wording, wording.on_one_line, True
    part.letter_count = None  # as the new words have
    part.save()
    note_change(part.workshop_id)
    ordered = OrderLine.objects.filter(operation__part=part, order__cancelled_on=None).exclude(wording=wording)
    return [line for line in ordered.select_related("order__supplier", "operation__part") if line.operation.nameplate]
