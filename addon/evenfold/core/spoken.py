"""A landmark's or width's name as it is written in sentences and as it heads a line."""

OWN_WORDS = {"foot_sole": "foot's own sole"}


def plain_word(name: str) -> str:
    """The name within a sentence: neck base for neck_base."""
    return OWN_WORDS.get(name, name.replace("_", " "))


def landmark_words(name: str) -> str:
    """The name at the head of a line: Neck base for neck_base."""
    return plain_word(name).capitalize()
