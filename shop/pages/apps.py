from django.apps import AppConfig


class PagesConfig(AppConfig):
    name = "shop.pages"
    label = "pages"
