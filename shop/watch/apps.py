from django.apps import AppConfig


class WatchConfig(AppConfig):
    name = "shop.watch"
    label = "watch"
