"""Pictures over the viewport: see manager for how they come to be drawn."""

from . import drawing, findings, guides, live, manager


def register() -> None:
    manager.add_source("guides", guides.source, guides.forget)
    manager.add_source("drawing", drawing.source, drawing.forget)
    manager.add_source("step", findings.step_source)
    manager.add_source("findings", findings.source, findings.forget)
    manager.add_source("live", live.source, live.forget)
    manager.register()


def unregister() -> None:
    manager.unregister()
