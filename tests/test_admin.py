"""The back room opens for every kind of row, and the log is only read there."""

import pytest
from django.apps import apps
from django.contrib import admin
from django.urls import reverse

from finishing.site.models import Edition
from finishing.workshops.models import User
from finishing.workshops.models.one_time_codes import OneTimeCodes
from projects.record.models import MailServer, Photo

pytestmark = pytest.mark.django_db
READ_ONLY = [Photo, *(model for model in apps.get_models() if getattr(model, "append_only", False))]
MODELS = [model for model in admin.site._registry if model._meta.app_label in {"finishing", "projects"}]


@pytest.fixture
def keeper(client):
    client.force_login(User.objects.create_superuser("keeper", password="iron and grit"))
    return client


@pytest.mark.parametrize("model", MODELS, ids=lambda model: model.__name__)
def test_every_list_opens(keeper, model):
    assert keeper.get(reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_changelist")).status_code == 200


@pytest.mark.parametrize("model", [model for model in MODELS if model not in READ_ONLY], ids=lambda m: m.__name__)
def test_every_form_opens(keeper, model):
    assert keeper.get(reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_add")).status_code == 200


@pytest.mark.parametrize("model", READ_ONLY, ids=lambda model: model.__name__)
def test_no_log_entry_is_written_there(keeper, model):
    assert keeper.get(reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_add")).status_code == 403


def test_an_owner_of_a_workshop_is_no_keeper_of_the_installation(owner_client):
    assert owner_client.get(reverse("admin:index")).status_code == 302


def test_every_model_has_its_place_in_the_back_room():
    ours = [*apps.get_app_config("finishing").get_models(), *apps.get_app_config("projects").get_models()]
    assert set(ours) - {Edition, OneTimeCodes, MailServer} == set(MODELS)  # no row of anybody; secrets
