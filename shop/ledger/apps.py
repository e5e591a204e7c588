from django.apps import AppConfig
from django.db.models.signals import post_migrate


class LedgerConfig(AppConfig):
    name = "shop.ledger"
    label = "ledger"

    def ready(self) -> None:
        """Have the ledger triggers set after every migrate: the one signal of this project."""
        from shop.ledger.triggers import install_after_migrate

        post_migrate.connect(install_after_migrate, sender=self, dispatch_uid="ledger triggers")
