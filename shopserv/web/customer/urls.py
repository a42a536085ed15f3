"""What a customer's link opens. Each address has its row in `web.addresses`."""

from __future__ import annotations

from django.urls import path

from shopserv.web.customer import messages, sums, views

app_name = "customer"
urlpatterns = [
    path("<str:token>/", views.decision, name="decision"),
    path("<str:token>/yes/", views.answer, name="answer"),
    path("<str:token>/none/", views.decline, name="decline"),
    path("<str:token>/sums/<str:letter>/", sums.sums, name="sums"),
    path("<str:token>/reminders/", messages.reminders, name="reminders"),
]
