"""The addresses of the pages. Each has its row in `web.addresses`."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, include, path

from shopserv.web.help import views as help_pages
from shopserv.web.house import views as house

urlpatterns: list[URLPattern | URLResolver] = [
    path("", house.home, name="home"),
    path("sign-in/", house.sign_in, name="sign_in"),
    path("sign-out/", house.sign_out, name="sign_out"),
    path("sign-in/shop/", house.choose_shop, name="choose_shop"),
    path("counter/", include("shopserv.web.counter.urls")),
    path("bay/", include("shopserv.web.bay.urls")),
    path("office/", include("shopserv.web.office.urls")),
    path("records/", include("shopserv.web.records.urls")),
    path("help/", help_pages.page, name="help"),
    path("help/orders/", help_pages.orders, name="help_orders"),
    path("healthz", house.healthz, name="healthz"),
    path("readyz", house.readyz, name="readyz"),
    path(".well-known/security.txt", house.security_txt, name="security_txt"),
    path("c/", include("shopserv.web.customer.urls")),
]
