"""Work on one or more machines of a design."""

from django.db import models

from finishing.site.models import Deletable, WorkshopRow, index_of_deleted


class Project(WorkshopRow, Deletable):
    name = models.CharField(max_length=100)
    design = models.ForeignKey("projects.Design", on_delete=models.PROTECT, related_name="projects")
    customer = models.CharField(max_length=100, blank=True)
    promised_on = models.DateField("promised for", null=True, blank=True)
    note = models.TextField(blank=True)
    closed = models.BooleanField(default=False)
    trial = models.BooleanField(
        "only a trial", default=False, help_text="It may be thrown away at once, with all that is logged on it."
    )

    class Meta:
        ordering = ["closed", "name"]
        indexes = [index_of_deleted("deleted_projects")]

    def __str__(self) -> str:
        return self.name


class Machine(WorkshopRow):
    goes_with = "project"

    project = models.ForeignKey(Project, on_delete=models.CASCADE, related_name="machines")
    number = models.CharField(max_length=40)

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["project", "number"], name="one_machine_of_a_number")]

    def __str__(self) -> str:
        return f"machine {self.number}"
