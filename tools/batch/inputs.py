"""What is to be checked: files, folders, patterns and lists, each file once and in a fixed order."""

import os
import re
import stat
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from fnmatch import fnmatchcase
from pathlib import Path
from typing import BinaryIO

from evenfold.core.errors import SettingsError
from evenfold.core.findings import FileResult
from evenfold.core.kinds import PROFILE_NAME, SUFFIXES
from evenfold.core.settings import Settings, read_profile

LIST = "-"
"""Stands for a list of paths on standard input."""
LARGEST_PROFILE = 1_000_000
"""Bytes; nobody writes a longer profile. Our choice."""
_MAGIC = re.compile(r"[*?\[]")


@dataclass(frozen=True, slots=True)
class Entry:
    """One input, by the path it was found under. ``profile`` is the one of its folder, if any.

    ``refused`` is set where there is nothing to open, and says why.
    """

    place: str
    profile: Path | None = None
    refused: FileResult | None = None

    @property
    def path(self) -> Path:
        """Its path; kept as a text, which takes a third of the memory."""
        return Path(self.place)


def gather(
    given: Sequence[str | Path], stdin: BinaryIO | None = None, profiles: bool = True
) -> list[Entry]:
    """Every input once: in the order given, and inside a folder in natural order.

    ``given`` are files, folders (searched), patterns (with ``**`` for any folders) and ``-`` for
    a list on ``stdin``, one path a line or separated by NUL. With ``profiles`` each file gets the
    nearest ``evenfold.toml`` from its folder upwards to the folder given, or to the working
    folder where that lies above; a broken one refuses the files it is meant for.
    """
    search = _Search()
    for one in given:
        if str(one) == LIST:
            search.listed(stdin if stdin is not None else sys.stdin.buffer)
        else:
            search.take(Path(one), patterns=True)
    return _with_profiles(search) if profiles else search.found


def settings_of(entry: Entry, base: Settings) -> Settings:
    """``base`` with what the entry's profile sets. Raises SettingsError."""
    return base if entry.profile is None else read_profile(entry.profile, base)


@dataclass
class _Search:
    """What was found so far. ``tops`` holds, for each entry, how far up its profile may lie."""

    found: list[Entry] = field(default_factory=list)
    tops: list[Path] = field(default_factory=list)
    seen: set[str] = field(default_factory=set)

    def listed(self, stream: BinaryIO) -> None:
        """Take the paths of a list; in a list no sign is a pattern."""
        data = stream.read()
        parts = data.split(b"\0") if b"\0" in data else [one.rstrip(b"\r") for one in data.split(b"\n")]
        paths = [Path(os.fsdecode(one)) for one in parts if one.strip()]
        if not paths:
            self._refuse(Path(LIST), "The list on standard input is empty: nothing was checked.")
        for path in paths:
            self.take(path, patterns=False)

    def take(self, path: Path, patterns: bool) -> None:
        if os.path.isdir(path):  # noqa: PTH112 - false for a name that is too long
            self._folder(path)
        elif patterns and _MAGIC.search(str(path)) and not os.path.lexists(path):
            self._pattern(path)
        else:
            self._file(path, path.parent)

    def _pattern(self, pattern: Path) -> None:
        start, parts = _split(pattern)
        root = os.path.realpath(start)
        matched = [
            one for one in _matching(start, parts)
            if (one.is_dir() or _is_input(one.name)) and _within(os.path.realpath(one.parent), root)
        ]
        if not matched:
            self._refuse(pattern, f"No folder and no file of these kinds fits this pattern: {', '.join(SUFFIXES)}.")
        for path in matched:
            if not path.is_dir():
                self._inside(path, root, start)
            elif _within(os.path.realpath(path), root):
                self._folder(path, start, may_be_empty=True)

    def _folder(self, folder: Path, top: Path | None = None, may_be_empty: bool = False) -> None:
        top = folder if top is None else top
        root, empty = os.path.realpath(folder), not may_be_empty
        for inside, names, trouble in _walk(folder):
            if trouble is not None:
                self._refuse(inside, f"The folder cannot be read: {trouble}.")
                empty = False
            for name in names:
                empty = False
                self._inside(inside / name, root, top)
        if empty:
            self._refuse(folder, f"The folder holds no file of these kinds: {', '.join(SUFFIXES)}.")

    def _inside(self, path: Path, root: str, top: Path) -> None:
        """Take a file that was found, not named: links may not lead out of the folder searched."""
        if path.is_symlink() and not _within(os.path.realpath(path), root):
            self._refuse(path, "This is a link that leads out of the folder: name the file itself.")
        else:
            self._file(path, top)

    def _file(self, path: Path, top: Path) -> None:
        real = os.path.realpath(path)
        if real in self.seen:
            return
        trouble = _no_file(path)
        if trouble is not None:
            self._refuse(path, trouble)
        else:
            self._add(Entry(str(path)), top)
        self.seen.add(real)

    def _refuse(self, path: Path, why: str) -> None:
        mark = str(Path(os.path.realpath(path.parent)) / path.name)
        if mark not in self.seen:
            self.seen.add(mark)
            self._add(Entry(str(path), refused=FileResult(str(path), why)), path)

    def _add(self, entry: Entry, top: Path) -> None:
        self.found.append(entry)
        self.tops.append(top)


def _is_input(name: str) -> bool:
    return name.lower().endswith(SUFFIXES)


def _no_file(path: Path) -> str | None:
    """Why a path need not be opened: opening a pipe would wait for ever. None where it may be tried."""
    try:
        if stat.S_ISREG(path.stat().st_mode):
            return None
        return "This is a pipe or a device, and only files are checked: name a file or a folder."
    except FileNotFoundError:
        return None if _is_input(path.name) else "There is no file and no folder of this name: correct it."
    except (OSError, ValueError) as error:
        return f"This cannot be read: {getattr(error, 'strerror', None) or error}."


def _natural(name: str) -> tuple[object, ...]:
    """Sorts keeper2 before keeper10, and capital letters with small ones."""
    parts = re.split(r"(\d+)", name.casefold())
    # Even places are texts and odd ones numbers, so like is always compared with like.
    return tuple(int(one) if place % 2 else one for place, one in enumerate(parts)), name


def _scan(folder: Path) -> tuple[list[str], list[str], str | None]:
    """The names of files (and what else is no folder) and of folders, sorted; or the trouble."""
    files: list[str] = []
    folders: list[str] = []
    try:
        with os.scandir(folder) as entries:
            for entry in entries:
                (folders if _is_folder(entry) else files).append(entry.name)
    except OSError as error:
        return [], [], error.strerror or type(error).__name__
    return sorted(files, key=_natural), sorted(folders, key=_natural), None


def _is_folder(entry: "os.DirEntry[str]") -> bool:
    try:
        return entry.is_dir()
    except OSError:
        return False


def _walk(folder: Path) -> Iterator[tuple[Path, list[str], str | None]]:
    """Each folder, with its files of known kinds, before the folders inside it.

    Hidden ones are left out, links to folders followed where they stay inside, and no folder
    is visited twice, so that a loop of links ends.
    """
    root = os.path.realpath(folder)
    visited: set[str] = set()
    todo = [folder]
    while todo:
        current = todo.pop()
        real = os.path.realpath(current)
        if real in visited or not _within(real, root):
            continue
        visited.add(real)
        files, folders, trouble = _scan(current)
        yield current, [name for name in files if _is_input(name) and not name.startswith(".")], trouble
        todo += [current / name for name in reversed(folders) if not name.startswith(".")]


def _within(path: str, root: str) -> bool:
    return path == root or path.startswith(root.rstrip(os.sep) + os.sep)


def _split(pattern: Path) -> tuple[Path, tuple[str, ...]]:
    """The folder before the first part that is a pattern, and the parts from there on."""
    parts = pattern.parts
    first = next(place for place, part in enumerate(parts) if _MAGIC.search(part))
    return Path(*parts[:first]), parts[first:]


def _matching(folder: Path, parts: tuple[str, ...]) -> list[Path]:
    """What fits the parts of a pattern under a folder; ``**`` stands for any folders, or none."""
    if not parts:
        return [folder]
    head, rest = parts[0], parts[1:]
    if head == "**":
        deep = [inside for inside, _, _ in _walk(folder)]
        return [one for inside in deep for one in (_matching(inside, rest) if rest else [inside])]
    if not _MAGIC.search(head):
        path = folder / head
        return _matching(path, rest) if os.path.lexists(path) else []
    files, folders, _ = _scan(folder)
    names = folders if rest else [*files, *folders]
    fits = _fitting(head)
    return [one for name in names if fits(name) for one in _matching(folder / name, rest)]


def _fitting(part: str) -> Callable[[str], bool]:
    """Whether a name fits one part of a pattern; hidden names only where it begins with a dot."""
    return lambda name: fnmatchcase(name, part) and (part.startswith(".") or not name.startswith("."))


def _with_profiles(search: _Search) -> list[Entry]:
    nearest = _Nearest()
    return [
        entry if entry.refused is not None else nearest.give(entry, top)
        for entry, top in zip(search.found, search.tops, strict=True)
    ]


class _Nearest:
    """Finds each folder's profile once, and tries each profile once."""

    def __init__(self) -> None:
        self._here = os.path.realpath(Path.cwd())
        self._profiles: dict[tuple[str, str], Path | None] = {}
        self._troubles: dict[Path, str | None] = {}

    def give(self, entry: Entry, top: Path) -> Entry:
        profile = self._nearest(_absolute(entry.path.parent), str(_absolute(top)))
        if profile is None:
            return entry
        trouble = self._trouble(profile)
        if trouble is None:
            return replace(entry, profile=profile)
        return replace(entry, refused=FileResult(str(entry.path), trouble))

    def _nearest(self, folder: Path, top: str) -> Path | None:
        key = (str(folder), top)
        if key not in self._profiles:
            profile = folder / PROFILE_NAME
            if os.path.lexists(profile):
                self._profiles[key] = profile
            elif self._last(str(folder), top) or folder.parent == folder:
                self._profiles[key] = None
            else:
                self._profiles[key] = self._nearest(folder.parent, top)
        return self._profiles[key]

    def _last(self, folder: str, top: str) -> bool:
        """True where looking further up would leave the folder given and the working folder."""
        inside = folder != top and _within(folder, top)
        return not inside and (folder == self._here or not _within(folder, self._here))

    def _trouble(self, profile: Path) -> str | None:
        if profile not in self._troubles:
            self._troubles[profile] = _trouble_of(profile)
        return self._troubles[profile]


def _absolute(path: Path) -> Path:
    return Path(os.path.abspath(path))  # noqa: PTH100 - without "..", and links as they are named


def _trouble_of(profile: Path) -> str | None:
    """Why a profile cannot be used; None where it can."""
    try:
        found = profile.stat()
        if not stat.S_ISREG(found.st_mode) or found.st_size > LARGEST_PROFILE:
            return f"The profile {profile} of its folder is no text file: mend or remove it."
        read_profile(profile, Settings())
    except SettingsError as error:
        place = "" if str(profile) in str(error) else f"The profile {profile}: "
        return f"{place}{error} Mend the profile, or name another one with --profile."
    except OSError as error:
        return f"The profile {profile} cannot be read: {error.strerror}."
    return None
