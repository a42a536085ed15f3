"""All addresses. Each has its row in `shopserv.web.addresses`."""

from __future__ import annotations

from django.urls import include, path

urlpatterns = [path("", include("shopserv.web.urls"))]
