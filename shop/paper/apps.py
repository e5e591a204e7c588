from django.apps import AppConfig


class PaperConfig(AppConfig):
    name = "shop.paper"
    label = "paper"
