"""Addresses of the counter."""

from __future__ import annotations

from django.urls import path

from shopserv.web.counter import around, course, desk, findings, intake, links, plan, quotes, which, work

app_name = "counter"
urlpatterns = [
    path("", desk.desk, name="desk"),
    path("intake/", intake.intake, name="intake"),
    path("expect/", around.expect, name="expect"),
    path("visit/<str:number>/", plan.visit, name="visit"),
    path("visit/<str:number>/act/", around.act, name="act"),
    path("visit/<str:number>/finding/", findings.decide, name="decide"),
    path("visit/<str:number>/identify/", plan.identify, name="identify"),
    path("visit/<str:number>/which/", which.which, name="which"),
    path("visit/<str:number>/quote/", plan.write, name="write"),
    path("visit/<str:number>/papers/", work.papers, name="papers"),
    path("work/<str:number>/", work.work, name="work"),
    path("work/<str:number>/sums/", work.sums, name="work_sums"),
    path("quote/<str:number>/", quotes.sheet, name="quote"),
    path("quote/<str:number>/revise/", quotes.revise, name="revise"),
    path("quote/<str:number>/link/", links.link, name="link"),
    path("quote/<str:number>/authorize/", quotes.consent, name="consent"),
    path("quote/<str:number>/room/", quotes.room, name="room"),
    path("quote/<str:number>/course/<str:letter>/", course.course, name="course"),
    path("quote/<str:number>/<int:version>/", quotes.version, name="version"),
    path("quote/<str:number>/<int:version>/<str:letter>/", quotes.working, name="working"),
]
