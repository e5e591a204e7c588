from django.apps import AppConfig


class ErrandsConfig(AppConfig):
    name = "shop.errands"
    label = "errands"
