"""Pages of the jobs: my next jobs, the work by property, one job."""

from django.urls import path

from jobs import calculator_views, plot_views, views

urlpatterns = [
    path("", views.next_page, name="next"),
    path("by-property/", views.work_page, name="work"),
    path("jobs/<int:job_id>/", views.job_page, name="job"),
    path("jobs/<int:job_id>/report/", views.report, name="report"),
    path("jobs/<int:job_id>/assign/", views.assign, name="assign"),
    path("jobs/<int:job_id>/set-aside/", views.set_limit_aside, name="set-aside"),
    path("jobs/<int:job_id>/chance/", plot_views.chance_page, name="chance"),
    path("jobs/<int:job_id>/amounts/", calculator_views.job_amounts_page, name="job-amounts"),
    path("calculators/", calculator_views.calculators_page, name="calculators"),
    path("calculators/<slug:key>/", calculator_views.calculator_page, name="calculator"),
    path("plots/<int:plot_id>/", plot_views.plot_page, name="plot"),
    path("assignments/<int:assignment_id>/end/", views.end_assignment, name="end-assignment"),
]
