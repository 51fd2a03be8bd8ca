"""Pages of the jobs."""

urlpatterns: list = []
