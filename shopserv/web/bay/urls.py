"""Addresses of the bay."""

from __future__ import annotations

from django.urls import path

from shopserv.web.bay import line, sheet, stop

app_name = "bay"
urlpatterns = [
    path("", line.line, name="line"),
    path("<str:number>/", sheet.sheet, name="sheet"),
    path("<str:number>/<int:step>/press/", sheet.press, name="press"),
    path("<str:number>/<int:step>/done/", sheet.finish, name="finish"),
    path("<str:number>/<int:step>/again/", sheet.redo, name="redo"),
    path("<str:number>/<int:step>/skip/", sheet.skip, name="skip"),
    path("<str:number>/stop/", stop.stop, name="stop"),
]
