"""Random steps over a holding through the services, for what must hold after each of them."""
