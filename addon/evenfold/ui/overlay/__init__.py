"""Pictures over the viewport: see manager for how they come to be drawn."""

from . import drawing, guides, manager


def register() -> None:
    manager.add_source("guides", guides.source, guides.forget)
    manager.add_source("drawing", drawing.source, drawing.forget)
    manager.register()


def unregister() -> None:
    manager.unregister()
