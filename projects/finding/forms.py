"""What is looked for: words in everything, and by what the log and the orders are narrowed."""

from typing import Any, ClassVar

from django import forms
from django.db.models import QuerySet

from finishing.site.searching import containing
from finishing.workshops.forms.base import FilterForm
from finishing.workshops.models import Place
from projects.record.models import Design, Order, Project, Step, Supplier


class EntriesFilter(FilterForm):
    text = forms.CharField(label="Words", required=False, max_length=100)
    kind = forms.ChoiceField(choices=[("", "all"), *Step.Kind.choices], required=False)
    project = forms.ModelChoiceField(Project.objects.all(), required=False)
    place = forms.ModelChoiceField(Place.objects.all(), required=False)
    since = forms.DateField(label="From", required=False, widget=forms.DateInput())
    until = forms.DateField(label="Up to", required=False, widget=forms.DateInput())

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_rows("project", Project.objects.of(self.workshop), none="all")
        self.offer_rows("place", Place.objects.of(self.workshop), none="all")

    def narrowed(self, steps: QuerySet[Step]) -> QuerySet[Step]:
        asked = self.asked
        looked_in = ("note", "reason", "outside", "batch", "layer_label", "piece__mark", "piece__part__name")
        ways = {"kind": "kind", "project": "piece__project", "place": "place"}
        ways |= {"since": "happened_at__date__gte", "until": "happened_at__date__lte"}
        steps = steps.filter(**{way: asked[name] for name, way in ways.items() if name in asked})
        return steps.filter(containing(asked.get("text", ""), *looked_in))


class OrdersFilter(FilterForm):
    STANDING: ClassVar[dict[str, dict[str, bool | None]]] = {
        "stands": {"cancelled_on": None},
        "cancelled": {"cancelled_on__isnull": False},
    }
    text = forms.CharField(label="Words", required=False, max_length=100)
    supplier = forms.ModelChoiceField(Supplier.objects.all(), required=False)
    design = forms.ModelChoiceField(Design.objects.all(), required=False)
    standing = forms.ChoiceField(
        choices=[("", "all"), ("stands", "not cancelled"), ("cancelled", "cancelled")], required=False
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offer_rows("supplier", Supplier.objects.of(self.workshop), none="all")
        self.offer_rows("design", Design.objects.of(self.workshop).exclude(orders=None).distinct(), none="all")

    def narrowed(self, orders: QuerySet[Order]) -> QuerySet[Order]:
        asked = self.asked
        looked_in = ("number", "note", "supplier__name", "lines__operation__part__name")
        orders = orders.filter(**{name: asked[name] for name in ("supplier", "design") if name in asked})
        orders = orders.filter(**self.STANDING.get(asked.get("standing", ""), {}))
        return orders.filter(containing(asked.get("text", ""), *looked_in)).distinct()
