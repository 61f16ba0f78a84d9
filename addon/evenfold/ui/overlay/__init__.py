"""Pictures over the viewport: see manager for how they come to be drawn."""

from .. import sheet
from . import drawing, guides, manager


def register() -> None:
    manager.add_source("guides", guides.source, guides.forget)
    manager.add_source("drawing", drawing.source)
    manager.register()


def unregister() -> None:
    manager.unregister()
    drawing.forget()
    sheet.forget()
