from django.apps import AppConfig


class BoardsConfig(AppConfig):
    name = "shop.boards"
    label = "boards"
