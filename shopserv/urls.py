"""All addresses. Each has its row in `shopserv.web.addresses`."""

from __future__ import annotations

from django.urls import include, path

urlpatterns = [path("", include("shopserv.web.urls"))]

handler400 = "shopserv.web.faults.bad_request"
handler403 = "shopserv.web.faults.not_yours"
handler404 = "shopserv.web.faults.not_found"
handler500 = "shopserv.web.faults.our_fault"
