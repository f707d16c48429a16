"""Keys of another workshop's rows, sent in every box that takes a key; and every form, sent by those who may not."""

import re
import uuid
from dataclasses import dataclass, field

from django.apps import apps
from django.db import connection
from django.db.models import F

from finishing.site.models import WorkshopRow
from finishing.workshops.models import DayOff, Invitation, Membership, Place, Workshop
from tests import cost_factories, factories
from tests.addresses import is_read, nothing_kept, pages
from tests.fuzzing import Writes, forms_of

KEY = re.compile(r"[0-9a-f]{8}-(?:[0-9a-f]{4}-){3}[0-9a-f]{12}")
KINDS = [model for model in apps.get_models() if issubclass(model, WorkshopRow)]
OWNERS_OWN = (Workshop, Membership, Invitation, Place, DayOff)
OWN_ACCOUNT = {"password", "choose-workshop", "sign-out", "sign-ins-end"}  # whoever is signed in has one


def rows_to_steal(workshop):
    """A row of every kind that another workshop's forms may be made to name."""
    step = factories.StepFactory(piece=factories.PieceFactory(part__design__workshop=workshop))
    factories.MachineFactory(project=step.piece.project)
    factories.VisitPieceFactory(piece=step.piece)
    factories.LayerFactory(system=factories.SystemFactory(workshop=workshop))
    ordered = cost_factories.OrderLineFactory(operation__part=step.piece.part, order__project=step.piece.project)
    cost_factories.QuoteFactory(operation=ordered.operation, supplier=ordered.order.supplier)
    cost_factories.CheckFactory(part=step.piece.part)
    factories.PlaceFactory(workshop=workshop)
    return [row for model in KINDS if (row := model.objects.of(workshop).first())]


@dataclass
class Smuggler:
    """Sends what it should not, takes it back, and notes what got through."""

    leaks: list = field(default_factory=list)
    sent: int = 0

    def send(self, client, form, data, got_through):
        """`got_through` says what is wrong with the rows, once anything was written."""
        writes = Writes()
        with nothing_kept(client):
            with connection.execute_wrapper(writes):
                answer = client.post(form.action, data)
            self.sent += 1
            if answer.status_code >= 500:
                self.leaks.append((form.name, "broke", data))
            elif writes.seen and (wrong := got_through()):
                self.leaks.append((form.name, wrong, data))


def forms_on(client, tried):
    """One of each kind of form that is sent, as they stand on the pages of whoever is signed in."""
    forms = {}
    for here in [here for name, rows in tried.items() for here in pages(name, rows)]:
        answer = client.get(here)
        for form in forms_of(here, answer) if is_read(answer) else ():
            if form.method == "post" and form.name not in (None, "sign-out"):
                forms.setdefault(form.kind, form)
    return list(forms.values())


def smuggle(client, forms, stolen, each):
    """Every box with a key in it, filled with `each` number of the other workshop's keys in turn."""
    smuggler, theirs = Smuggler(), kept_of(stolen)

    def got_through():
        return pointing_across() or ("another workshop's rows are changed" if kept_of(stolen) != theirs else None)

    for number, form in enumerate(forms):
        for name in boxes_with_keys(form):
            for row in [stolen[(number + turn) % len(stolen)] for turn in range(min(each, len(stolen)))]:
                filled = filled_in(form)
                smuggler.send(client, form, {**filled, name: [str(row.pk)]}, got_through)
    return smuggler


def boxes_with_keys(form):
    """By what stands in them, or may; a form's own key is none of a row."""
    names = [name for name, values in form.choices.items() if any(KEY.fullmatch(value) for value in values)]
    names += [name for name, values in form.values.items() if any(KEY.fullmatch(value) for value in values)]
    return sorted(set(names))


def filled_in(form):
    """As a hasty person sends it: what is chosen, else the first that may be chosen, and a little in each empty box."""
    data = {name: [value or "1" for value in values] for name, values in form.values.items()}
    for name, choices in form.choices.items():
        data.setdefault(name, [next((choice for choice in choices if choice), "")])
    data |= {name: [str(uuid.uuid4())] for name in data if name in ("id", "key")}
    return data


def kept_of(rows):
    workshop = rows[0].workshop_id
    return {model: sorted(map(repr, model.objects.of(workshop).values_list())) for model in KINDS}


def pointing_across():
    """Rows that point at one of another workshop."""
    for model in KINDS:
        for relation in model._meta.concrete_fields:
            if relation.is_relation and issubclass(relation.related_model, WorkshopRow):
                theirs = model.objects.exclude(**{relation.name: None})
                if theirs.exclude(**{f"{relation.name}__workshop": F("workshop")}).exists():
                    return f"{model.__name__}.{relation.name}"
        for relation in model._meta.many_to_many:
            if issubclass(relation.related_model, WorkshopRow):
                theirs = model.objects.exclude(**{relation.name: None})
                if theirs.exclude(**{f"{relation.name}__workshop": F("workshop")}).exists():
                    return f"{model.__name__}.{relation.name}"
    return None


def pressed_by(client, forms, kinds, who):
    """Every form of an owner's pages, sent by somebody who may change no row of these kinds."""
    presser, before = Smuggler(), rows_of(kinds)

    def got_through():
        return f"changed by a {who}" if rows_of(kinds) != before else None

    for form in forms:
        if form.name not in OWN_ACCOUNT:
            presser.send(client, form, filled_in(form), got_through)
    return presser


def rows_of(kinds):
    return {model: sorted(map(repr, model._default_manager.values_list())) for model in kinds}
