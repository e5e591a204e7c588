from django.apps import AppConfig


class SiteConfig(AppConfig):
    name = "shop.site"
    label = "site"
