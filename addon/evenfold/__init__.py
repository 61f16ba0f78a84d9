"""Evenfold: how many heads tall a figure stands, and whether its two halves match."""


def register() -> None:
    from . import ui

    ui.register()


def unregister() -> None:
    from . import ui

    ui.unregister()
