"""Pages of the shell: sign-in and sign-out, invitations, stop of a way, choice of a holding."""

from django.contrib.auth.views import LogoutView
from django.urls import path

from core import views

urlpatterns = [
    path("sign-in/", views.SignIn.as_view(), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("invitation/<str:secret>/", views.invitation, name="invitation"),
    path("stop/<str:signed>/", views.stop, name="stop-way"),
    path("holding/", views.choose_holding, name="choose-holding"),
]
