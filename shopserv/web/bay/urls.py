"""Addresses of the bay."""

from __future__ import annotations

from django.urls import path

from shopserv.web.bay import close_out, level, line, look, sheet, stop, weigh, workings

app_name = "bay"
urlpatterns = [
    path("", line.line, name="line"),
    path("looks/", look.looks, name="looks"),
    path("<str:number>/", sheet.sheet, name="sheet"),
    path("<str:number>/<int:step>/press/", sheet.press, name="press"),
    path("<str:number>/<int:step>/done/", sheet.finish, name="finish"),
    path("<str:number>/<int:step>/again/", sheet.redo, name="redo"),
    path("<str:number>/<int:step>/skip/", sheet.skip, name="skip"),
    path("<str:number>/stop/", stop.stop, name="stop"),
    path("<str:number>/level/", level.level, name="level"),
    path("<str:number>/weigh/", weigh.weigh, name="weigh"),
    path("<str:number>/again/", level.recheck, name="recheck"),
    path("<str:number>/close-out/", close_out.close_out, name="close_out"),
    path("<str:number>/look/", look.look, name="look"),
    path("<str:number>/sums/", workings.sums, name="sums"),
]
