"""The whole site on one page."""

from django.contrib import admin
from django.urls import path

from finishing.views import accounts, sources

urlpatterns = [
    path("admin/", admin.site.urls),
    # who comes in
    path("sign-in/", accounts.sign_in, name="sign-in"),
    path("sign-out/", accounts.sign_out, name="sign-out"),
    # open to everybody
    path("sources/", sources.sources, name="sources"),
]
