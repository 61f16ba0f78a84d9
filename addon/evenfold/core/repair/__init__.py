"""Repairs: from a finding to the changes that mend it, always by moving what exists."""

from .changes import (
    WAYS,
    BoneSet,
    Change,
    KeyMade,
    KeyMoved,
    KeysExchanged,
    Moved,
    Plan,
    SeamsSet,
    UVMoved,
    Weighted,
    Wish,
)

__all__ = [
    "WAYS",
    "BoneSet",
    "Change",
    "KeyMade",
    "KeyMoved",
    "KeysExchanged",
    "Moved",
    "Plan",
    "SeamsSet",
    "UVMoved",
    "Weighted",
    "Wish",
]
