"""Refusals. Each message is a sentence that tells the reader what to do."""


class EvenfoldError(Exception):
    """Anything Evenfold declines to do; the text is fit to be shown to an artist."""


class NothingToCheckError(EvenfoldError):
    """The input holds no figure."""


class UnreadableError(EvenfoldError):
    """A file could not be opened or understood."""


class SettingsError(EvenfoldError):
    """A setting, a profile or a call is wrong."""
