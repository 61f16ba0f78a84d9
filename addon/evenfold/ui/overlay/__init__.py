"""Pictures over the viewport: see manager for how they come to be drawn."""

from . import guides, manager


def register() -> None:
    manager.add_source("guides", guides.source)
    manager.register()


def unregister() -> None:
    manager.unregister()
    guides.forget()
