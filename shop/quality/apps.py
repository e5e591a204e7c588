from django.apps import AppConfig


class QualityConfig(AppConfig):
    name = "shop.quality"
    label = "quality"
