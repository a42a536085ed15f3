"""Pages of the office. Each address has its row in `web.addresses`."""

from __future__ import annotations

from django.urls import path

from shopserv.web.office import due_soon, sold_needed, trail

app_name = "office"
urlpatterns = [
    path("due-soon/", due_soon.due_soon, name="due_soon"),
    path("due-soon/plan/", due_soon.plan_reminders, name="plan_reminders"),
    path("sold-needed/", sold_needed.sold_needed, name="sold_needed"),
    path("trail/", trail.trail, name="trail"),
]
